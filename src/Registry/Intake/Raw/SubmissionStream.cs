using Npgsql;
using Registry.Platform;
using Registry.Records;

namespace Registry.Intake.Raw;

/// <summary>The raw bytes of a submission as they were sent, read piece by piece, from any position.</summary>
/// <param name="command">Makes a command on the data source, or on the connection whose transaction stored the bytes.</param>
/// <param name="id">The submission.</param>
/// <param name="length">The number of its bytes.</param>
public sealed class SubmissionStream(Func<string, NpgsqlCommand> command, SubmissionId id, long length) : ReadOnlyStream
{
    private byte[] _chunk = [];
    private int _ordinal = -1;
    private long _position;

    public override async ValueTask<int> ReadAsync(Memory<byte> buffer, CancellationToken cancellationToken = default)
    {
        if (Wanted() is not { } wanted) return 0;
        if (wanted != _ordinal)
        {
            await using var select = Select(wanted);
            await using var piece = await select.ExecuteReaderAsync(cancellationToken);
            Take(wanted, await piece.ReadAsync(cancellationToken) ? StoredPiece.Read(piece, id, wanted) : null);
        }

        return Copy(buffer.Span);
    }

    public override int Read(byte[] buffer, int offset, int count)
    {
        if (Wanted() is not { } wanted) return 0;
        if (wanted != _ordinal)
        {
            using var select = Select(wanted);
            using var piece = select.ExecuteReader();
            Take(wanted, piece.Read() ? StoredPiece.Read(piece, id, wanted) : null);
        }

        return Copy(buffer.AsSpan(offset, count));
    }

    public override bool CanSeek => true;
    public override long Length => length;
    public override long Position { get => _position; set => _position = value; }

    public override long Seek(long offset, SeekOrigin origin) =>
        _position = offset + (origin == SeekOrigin.Begin ? 0 : origin == SeekOrigin.Current ? _position : length);

    private int? Wanted() => _position >= length ? null : (int)(_position / ReceivedBytes.ChunkBytes);

    private NpgsqlCommand Select(int ordinal)
    {
        var select = command("select bytes, key_id from submission_chunks where submission_id = $1 and ordinal = $2");
        select.Parameters.AddWithValue(id.Value);
        select.Parameters.AddWithValue(ordinal);
        return select;
    }

    private void Take(int ordinal, byte[]? chunk) =>
        (_chunk, _ordinal) = (chunk ?? throw new RequestRefusedException(StatusCodes.Status410Gone, "The file is no longer kept",
            "The bytes of a file that was refused as a whole are deleted after a while; when it was sent and why it was refused stay."),
            ordinal);

    private int Copy(Span<byte> buffer)
    {
        var from = (int)(_position - ((long)_ordinal * ReceivedBytes.ChunkBytes));
        var count = Math.Min(buffer.Length, _chunk.Length - from);
        _chunk.AsSpan(from, count).CopyTo(buffer);
        _position += count;
        return count;
    }
}
