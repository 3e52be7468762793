using System.IO.Compression;
using Registry.Intake.Rows;
using Registry.Platform;

namespace Registry.Intake.Raw;

/// <summary>Unpacks a gzip stream (RFC 1952) and stops one that swells beyond what a table of text can.</summary>
/// <param name="packed">The bytes as they are taken in.</param>
/// <param name="limits">How large the text may be, and how many times the packed bytes.</param>
internal sealed class GunzipWithin(ReceivedBytes packed, IntakeOptions limits) : ReadOnlyStream
{
    /// <summary>Below this a ratio says little.</summary>
    private const int Harmless = 1024 * 1024;

    private readonly GZipStream _text = new(packed, CompressionMode.Decompress, leaveOpen: true);
    private long _total;

    public override async ValueTask<int> ReadAsync(Memory<byte> buffer, CancellationToken cancellationToken = default)
    {
        int length;
        try
        {
            length = await _text.ReadAsync(buffer, cancellationToken);
        }
        catch (InvalidDataException)
        {
            throw new UnreadableFileException(0, null, "is not a sound gzip stream");
        }

        if (length == 0)
        {
            // The last field says how long the text is (RFC 1952, ISIZE); the platform's reader ends in silence where a stream breaks off.
            await packed.ReadToEndAsync(cancellationToken);
            if (packed.Tail != unchecked((uint)_total))
                throw new UnreadableFileException(0, null, "the gzip stream breaks off, or is more than one: pack the whole file at once");
        }

        _total += length;
        if (_total > limits.MaxBytes) throw new UnreadableFileException(0, null, $"unpacks to more than {limits.MaxBytes} bytes");
        if (_total > Harmless && _total > packed.Total * limits.MaxRatio)
            throw new UnreadableFileException(0, null, $"unpacks to more than {limits.MaxRatio} times its size");
        return length;
    }

    protected override void Dispose(bool disposing)
    {
        if (disposing) _text.Dispose();
        base.Dispose(disposing);
    }
}
