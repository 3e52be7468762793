using System.Security.Cryptography;
using Registry.Platform;

namespace Registry.Operations.Backup;

/// <summary>Encrypts what is written, a piece of 1 MiB at a time (AES-256-GCM); disposing it writes the last one.</summary>
public sealed class SealStream(Stream to, ArchiveKey key) : Stream
{
    private readonly AesGcm _aes = new(key.Bytes, ArchiveKey.TagBytes);
    private readonly byte[] _plain = new byte[ArchiveKey.PieceBytes];
    private readonly byte[] _sealed = new byte[ArchiveKey.PieceBytes + ArchiveKey.TagBytes];
    private int _length;
    private long _piece;

    public override async ValueTask WriteAsync(ReadOnlyMemory<byte> buffer, CancellationToken cancellationToken = default)
    {
        while (buffer.Length > 0)
        {
            // A full piece is sealed when more follows: only then it is known not to be the last.
            if (_length == _plain.Length) await SealAsync(isLast: false, cancellationToken);
            var some = Math.Min(buffer.Length, _plain.Length - _length);
            buffer[..some].CopyTo(_plain.AsMemory(_length));
            _length += some;
            buffer = buffer[some..];
        }
    }

    /// <summary>Seals the last piece. An archive without it is refused.</summary>
    public async Task FinishAsync(CancellationToken ct) => await SealAsync(isLast: true, ct);

    private async Task SealAsync(bool isLast, CancellationToken ct)
    {
        _aes.Encrypt(ArchiveKey.Nonce(_piece++, isLast), _plain.AsSpan(0, _length), _sealed.AsSpan(0, _length),
            _sealed.AsSpan(_length, ArchiveKey.TagBytes), key.Header);
        await to.WriteAsync(_sealed.AsMemory(0, _length + ArchiveKey.TagBytes), ct);
        _length = 0;
    }

    public override Task WriteAsync(byte[] buffer, int offset, int count, CancellationToken cancellationToken) =>
        WriteAsync(buffer.AsMemory(offset, count), cancellationToken).AsTask();

    public override void Write(byte[] buffer, int offset, int count) =>
        WriteAsync(buffer.AsMemory(offset, count)).AsTask().GetAwaiter().GetResult();

    public override bool CanRead => false;
    public override bool CanSeek => false;
    public override bool CanWrite => true;
    public override long Length => throw new NotSupportedException();
    public override long Position { get => throw new NotSupportedException(); set => throw new NotSupportedException(); }

    /// <summary>Nothing: a piece is written when it is full.</summary>
    public override void Flush()
    {
    }

    public override int Read(byte[] buffer, int offset, int count) => throw new NotSupportedException();
    public override long Seek(long offset, SeekOrigin origin) => throw new NotSupportedException();
    public override void SetLength(long value) => throw new NotSupportedException();

    protected override void Dispose(bool disposing)
    {
        if (disposing) _aes.Dispose();
        base.Dispose(disposing);
    }
}

/// <summary>Decrypts what <see cref="SealStream"/> wrote; a piece is given out only when its tag is right.</summary>
public sealed class UnsealStream(Stream from, ArchiveKey key) : ReadOnlyStream
{
    private const int SealedBytes = ArchiveKey.PieceBytes + ArchiveKey.TagBytes;

    private readonly AesGcm _aes = new(key.Bytes, ArchiveKey.TagBytes);
    private readonly byte[] _plain = new byte[ArchiveKey.PieceBytes];
    private byte[] _sealed = new byte[SealedBytes], _next = new byte[SealedBytes];
    private int _position, _length, _nextLength = -1;
    private long _piece;
    private bool _ended;

    /// <exception cref="ArchiveException">The piece was changed, moved or cut off, or the passphrase is another.</exception>
    public override async ValueTask<int> ReadAsync(Memory<byte> buffer, CancellationToken cancellationToken = default)
    {
        if (_position == _length && !_ended) await NextAsync(cancellationToken);
        var count = Math.Min(buffer.Length, _length - _position);
        _plain.AsSpan(_position, count).CopyTo(buffer.Span);
        _position += count;
        return count;
    }

    private async Task NextAsync(CancellationToken ct)
    {
        if (_nextLength < 0) _nextLength = await from.ReadAtLeastAsync(_next, SealedBytes, throwOnEndOfStream: false, ct);
        (_sealed, _next) = (_next, _sealed);
        var length = _nextLength - ArchiveKey.TagBytes;
        _nextLength = await from.ReadAtLeastAsync(_next, SealedBytes, throwOnEndOfStream: false, ct);
        _ended = _nextLength == 0;
        if (length < 0) throw new ArchiveException("The backup was cut short.");
        try
        {
            _aes.Decrypt(ArchiveKey.Nonce(_piece++, _ended), _sealed.AsSpan(0, length), _sealed.AsSpan(length, ArchiveKey.TagBytes),
                _plain.AsSpan(0, length), key.Header);
        }
        catch (AuthenticationTagMismatchException)
        {
            throw new ArchiveException(_piece == 1
                ? "The backup cannot be opened: the passphrase is another, or the file was changed."
                : "The backup was changed or cut short.");
        }

        (_position, _length) = (0, length);
    }

    protected override void Dispose(bool disposing)
    {
        if (disposing) _aes.Dispose();
        base.Dispose(disposing);
    }
}
