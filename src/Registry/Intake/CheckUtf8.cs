using System.Text;
using System.Text.Unicode;

namespace Registry.Intake;

/// <summary>Is a text that arrives in pieces UTF-8 without zero bytes? Names the first line that is not.</summary>
internal sealed class CheckUtf8
{
    private readonly byte[] _carry = new byte[4];
    private int _carried;
    private long _line = 1;
    private bool _started;

    public FileProblem? Problem { get; private set; }

    /// <summary>Looks at the next bytes.</summary>
    /// <returns>The same bytes, without a byte order mark at the start; nothing once there is a problem.</returns>
    public ReadOnlySpan<byte> Feed(ReadOnlySpan<byte> bytes)
    {
        if (Problem is not null) return [];
        if (!_started)
        {
            _started = true;
            if (bytes is [0xFF, 0xFE, ..] or [0xFE, 0xFF, ..])
            {
                Problem = new(0, null, "the file is UTF-16: save it as UTF-8");
                return [];
            }

            if (bytes is [0xEF, 0xBB, 0xBF, ..]) bytes = bytes[3..];
        }

        var text = bytes;
        // A character cut by the end of the last piece is completed by the first bytes of this one.
        while (_carried > 0 && !text.IsEmpty)
        {
            _carry[_carried++] = text[0];
            text = text[1..];
            var status = Rune.DecodeFromUtf8(_carry.AsSpan(0, _carried), out _, out _);
            if (status == System.Buffers.OperationStatus.Done) _carried = 0;
            else if (status != System.Buffers.OperationStatus.NeedMoreData || _carried == 4) return Refuse();
        }

        var whole = text.Length - IncompleteTail(text);
        if (!Utf8.IsValid(text[..whole])) return Refuse(text[..whole]);
        if (text[..whole].Contains((byte)0))
        {
            Problem = new(0, null, "the file holds zero bytes: it is not a text file, or not UTF-8");
            return [];
        }

        text[whole..].CopyTo(_carry.AsSpan(_carried));
        _carried += text.Length - whole;
        _line += text.Count((byte)'\n');
        return bytes;
    }

    public void End()
    {
        if (_carried > 0) Refuse();
    }

    private ReadOnlySpan<byte> Refuse(ReadOnlySpan<byte> text = default)
    {
        var valid = 0;
        while (Rune.DecodeFromUtf8(text[valid..], out _, out var length) == System.Buffers.OperationStatus.Done) valid += length;
        var line = _line + text[..valid].Count((byte)'\n');
        Problem = new(0, null, $"line {line} is not UTF-8: save the file as UTF-8");
        return [];
    }

    private static int IncompleteTail(ReadOnlySpan<byte> text)
    {
        for (var length = 1; length <= Math.Min(3, text.Length); length++)
        {
            var b = text[^length];
            if ((b & 0xC0) == 0x80) continue;
            var needs = b >= 0xF0 ? 4 : b >= 0xE0 ? 3 : b >= 0xC0 ? 2 : 1;
            return needs > length ? length : 0;
        }

        return 0;
    }
}
