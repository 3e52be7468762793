using System.Globalization;

namespace Registry.Intake.Formats.Hl7V2;

/// <summary>Turns the raw text of a value into what it says: HL7 v2.x, chapter 2.7. Formatting that a name or a code cannot carry is
/// dropped, a line break stays; an escape that is none is left as it stands.</summary>
public sealed class Unescape
{
    private char[] _text = new char[256];
    private byte[] _bytes = new byte[64];
    private int _length;

    /// <summary>Holds until the next call.</summary>
    public ReadOnlySpan<char> Of(ReadOnlySpan<char> raw, Hl7V2Message message)
    {
        var d = message.Delimiters;
        var at = raw.IndexOf(d.Escape);
        if (at < 0) return raw;
        _length = 0;
        while (at >= 0)
        {
            Add(raw[..at]);
            raw = raw[(at + 1)..];
            var end = raw.IndexOf(d.Escape);
            if (end < 0)
            {
                Add([d.Escape]);
                break;
            }

            if (Replace(raw[..end], message))
            {
                raw = raw[(end + 1)..];
            }
            else
            {
                Add([d.Escape]);
            }

            at = raw.IndexOf(d.Escape);
        }

        Add(raw);
        return _text.AsSpan(0, _length);
    }

    private bool Replace(ReadOnlySpan<char> escape, Hl7V2Message message)
    {
        var d = message.Delimiters;
        switch (escape)
        {
            case "F": Add([d.Field]); return true;
            case "S": Add([d.Component]); return true;
            case "T": Add([d.Subcomponent]); return true;
            case "R": Add([d.Repetition]); return true;
            case "E": Add([d.Escape]); return true;
            case "P" when d.Truncation != '\0': Add([d.Truncation]); return true;
            case "H" or "N": return true;
            case ".br" or ".ce" or ".sp": Add("\n"); return true;
            case ['.', 's', 'p', .. var lines] when int.TryParse(lines, NumberStyles.AllowLeadingSign, CultureInfo.InvariantCulture,
                out _):
                Add("\n"); return true;
            case ".fi" or ".nf" or ['.', 'i', 'n', ..] or ['.', 't', 'i', ..] or ['.', 's', 'k', ..]: return true;
            case ['X', .. var hex]: return Bytes(hex, message);
            default: return false;
        }
    }

    private bool Bytes(ReadOnlySpan<char> hex, Hl7V2Message message)
    {
        if (hex.IsEmpty || hex.Length % 2 != 0) return false;
        if (_bytes.Length < hex.Length / 2) _bytes = new byte[hex.Length];
        if (Convert.FromHexString(hex, _bytes, out _, out var written) != System.Buffers.OperationStatus.Done) return false;
        Room(message.Encoding.GetMaxCharCount(written));
        _length += message.Encoding.GetChars(_bytes.AsSpan(0, written), _text.AsSpan(_length));
        return true;
    }

    private void Add(scoped ReadOnlySpan<char> text)
    {
        Room(text.Length);
        text.CopyTo(_text.AsSpan(_length));
        _length += text.Length;
    }

    private void Room(int more)
    {
        if (_length + more > _text.Length) Array.Resize(ref _text, Math.Max(_text.Length * 2, _length + more));
    }
}
