using System.Buffers;
using System.Security.Cryptography;
using Registry.Platform;

namespace Registry.Intake.Raw;

/// <summary>The body is larger than one submission may be.</summary>
public sealed class BodyTooLargeException() : Exception("The body is larger than allowed.");

/// <summary>
/// The bytes of a body as they arrive: each is hashed and kept, in pieces of equal size, before the reader sees it.
/// </summary>
/// <param name="body">The bytes as they arrive.</param>
/// <param name="maxBytes">The most there may be.</param>
/// <param name="keep">Stores a piece, given its ordinal; null when the bytes are only compared.</param>
public sealed class ReceivedBytes(Stream body, long maxBytes, Func<int, ReadOnlyMemory<byte>, CancellationToken, Task>? keep)
    : ReadOnlyStream
{
    public const int ChunkBytes = 256 * 1024;

    private readonly IncrementalHash _hash = IncrementalHash.CreateHash(HashAlgorithmName.SHA256);
    private readonly byte[] _rented = ArrayPool<byte>.Shared.Rent(ChunkBytes);
    private int _position, _length, _ordinal;
    private bool _ended, _disposed;

    private Memory<byte> Piece => _rented.AsMemory(0, ChunkBytes);

    /// <summary>The last four bytes, once all were taken in: the end of a gzip stream.</summary>
    public uint Tail { get; private set; }

    /// <summary>Bytes taken in so far.</summary>
    public long Total { get; private set; }

    /// <exception cref="BodyTooLargeException"/>
    /// <exception cref="IOException">The body broke off.</exception>
    public override async ValueTask<int> ReadAsync(Memory<byte> buffer, CancellationToken cancellationToken = default)
    {
        if (_position == _length && !_ended) await NextAsync(cancellationToken);
        var count = Math.Min(buffer.Length, _length - _position);
        Piece.Slice(_position, count).CopyTo(buffer);
        _position += count;
        return count;
    }

    /// <summary>Takes in what nobody read, so that all of the body is kept.</summary>
    /// <returns>SHA-256 of the whole body.</returns>
    public async Task<byte[]> ReadToEndAsync(CancellationToken ct)
    {
        while (!_ended) await NextAsync(ct);
        return _hash.GetCurrentHash();
    }

    private async Task NextAsync(CancellationToken ct)
    {
        (_position, _length) = (0, await body.ReadAtLeastAsync(Piece, ChunkBytes, throwOnEndOfStream: false, ct));
        _ended = _length < ChunkBytes;
        if (_length == 0) return;
        Total += _length;
        if (Total > maxBytes) throw new BodyTooLargeException();
        foreach (var last in _rented.AsSpan(Math.Max(0, _length - 4), Math.Min(4, _length))) Tail = (Tail >> 8) | ((uint)last << 24);
        _hash.AppendData(_rented, 0, _length);
        if (keep is not null) await keep(_ordinal++, Piece[.._length], ct);
    }

    protected override void Dispose(bool disposing)
    {
        if (disposing && !_disposed)
        {
            _disposed = true;
            _hash.Dispose();
            ArrayPool<byte>.Shared.Return(_rented);
        }

        base.Dispose(disposing);
    }
}
