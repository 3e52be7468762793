using System.Text;
using Registry.Intake.Raw;

namespace Registry.Tests.Intake;

/// <summary>A file of any length, made while it is read.</summary>
/// <param name="header">Its first line.</param>
/// <param name="count">How many lines follow.</param>
/// <param name="line">The line of a number, from 0.</param>
internal sealed class GeneratedLines(string header, int count, Func<int, string> line) : ReadOnlyStream
{
    private byte[] _part = Encoding.UTF8.GetBytes(header + "\n");
    private int _position, _next;

    public override ValueTask<int> ReadAsync(Memory<byte> buffer, CancellationToken cancellationToken = default)
    {
        if (_position == _part.Length)
        {
            var text = new StringBuilder(1 << 15);
            for (var i = 0; i < 200 && _next < count; i++, _next++) text.Append(line(_next)).Append('\n');
            (_part, _position) = (Encoding.UTF8.GetBytes(text.ToString()), 0);
        }

        var length = Math.Min(buffer.Length, _part.Length - _position);
        _part.AsMemory(_position, length).CopyTo(buffer);
        _position += length;
        return ValueTask.FromResult(length);
    }
}
