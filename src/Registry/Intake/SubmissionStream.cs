using Npgsql;
using Registry.Records;

namespace Registry.Intake;

/// <summary>The raw bytes of a submission as they were sent, read piece by piece.</summary>
public sealed class SubmissionStream(NpgsqlDataSource source, SubmissionId id) : Stream
{
    private byte[] _chunk = [];
    private int _ordinal, _position;
    private bool _ended;

    public override async ValueTask<int> ReadAsync(Memory<byte> buffer, CancellationToken cancellationToken = default)
    {
        while (_position == _chunk.Length && !_ended)
        {
            await using var command = source.CreateCommand("select bytes from submission_chunks where submission_id = $1 and ordinal = $2");
            command.Parameters.AddWithValue(id.Value);
            command.Parameters.AddWithValue(_ordinal++);
            var next = (byte[]?)await command.ExecuteScalarAsync(cancellationToken);
            (_chunk, _position, _ended) = (next ?? [], 0, next is null);
        }

        var length = Math.Min(buffer.Length, _chunk.Length - _position);
        _chunk.AsMemory(_position, length).CopyTo(buffer);
        _position += length;
        return length;
    }

    public override Task<int> ReadAsync(byte[] buffer, int offset, int count, CancellationToken cancellationToken) =>
        ReadAsync(buffer.AsMemory(offset, count), cancellationToken).AsTask();

    public override int Read(byte[] buffer, int offset, int count) =>
        ReadAsync(buffer.AsMemory(offset, count)).AsTask().GetAwaiter().GetResult();

    public override bool CanRead => true;
    public override bool CanSeek => false;
    public override bool CanWrite => false;
    public override long Length => throw new NotSupportedException();
    public override long Position { get => throw new NotSupportedException(); set => throw new NotSupportedException(); }
    public override void Flush() => throw new NotSupportedException();
    public override long Seek(long offset, SeekOrigin origin) => throw new NotSupportedException();
    public override void SetLength(long value) => throw new NotSupportedException();
    public override void Write(byte[] buffer, int offset, int count) => throw new NotSupportedException();
}
