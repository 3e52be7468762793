using System.Buffers;
using System.Text;
using System.Text.Unicode;

namespace Registry.Intake.Formats.Hl7V2;

/// <summary>
/// One HL7 v2 message, cut into segments and fields without copying them. Made once and used for one message after another.
/// It reads any bytes whatever without an exception.
/// </summary>
/// <remarks>HL7 v2.x, chapter 2: delimiters (2.5.4), encoding rules (2.6), escapes (2.7), character sets (MSH-18, table 0211).
/// Segments end with CR; LF and CRLF are read too.</remarks>
public sealed class Hl7V2Message
{
    public const int MaxSegments = 5_000;
    private const int HeaderBytes = 4_096;

    private readonly record struct Span(int Start, int Length, int FirstCut, int Cuts);

    private char[] _text = new char[8_192];
    private int[] _cuts = new int[1_024];
    private Span[] _segments = new Span[64];
    private int _length, _cutCount;

    public Delimiters Delimiters { get; private set; } = Delimiters.Usual;

    /// <summary>How the bytes are encoded, and what a reply is to be written in.</summary>
    public Encoding Encoding { get; private set; } = Encoding.UTF8;

    /// <summary>The character set MSH-18 states, when it is one we read.</summary>
    public string StatedCharacterSet =>
        SegmentCount > 0 && Part(Field(0, 18), Delimiters.Repetition, 1) is { Length: > 0 and < 24 } name
            && CharacterSets.Find(System.Text.Encoding.ASCII.GetBytes(name.ToString())) is not null ? name.ToString() : "";

    public int SegmentCount { get; private set; }

    /// <summary>The segment's three-letter name.</summary>
    public ReadOnlySpan<char> Name(int segment) => _text.AsSpan(_segments[segment].Start, Math.Min(3, _segments[segment].Length));

    public bool Is(int segment, ReadOnlySpan<char> name) => Name(segment).SequenceEqual(name);

    /// <summary>The raw text of a field with all its repetitions; empty when the segment has no such field. MSH-1 is the separator
    /// itself.</summary>
    public ReadOnlySpan<char> Field(int segment, int field)
    {
        ref readonly var s = ref _segments[segment];
        if (segment == 0)
        {
            // MSH: every message begins with it.
            if (field == 1) return _text.AsSpan(s.Start + 3, Math.Min(1, s.Length - 3));
            field--;
        }

        if (field < 1 || field > s.Cuts) return default;
        var start = _cuts[s.FirstCut + field - 1] + 1;
        var end = field < s.Cuts ? _cuts[s.FirstCut + field] : s.Start + s.Length;
        return _text.AsSpan(start, end - start);
    }

    /// <summary>Reads the next message; what was read before is forgotten.</summary>
    /// <returns>Null when it can be read. Otherwise why not; the header's fields may still be there.</returns>
    public UnreadableMessage? Read(ReadOnlySpan<byte> bytes)
    {
        (SegmentCount, _length, _cutCount) = (0, 0, 0);
        (Delimiters, Encoding) = (Delimiters.Usual, Encoding.UTF8);
        var head = bytes[..Math.Min(bytes.Length, HeaderBytes)];
        var end = head.IndexOfAny((byte)'\r', (byte)'\n');
        if (end >= 0) head = head[..end];
        if (!TryDelimiters(head, out var delimiters))
            return new(new(0, 2), 102,
                "MSH-1 and MSH-2 are not a field separator and four different delimiters, none of them a letter, a digit or a space");
        Delimiters = delimiters;
        if (EncodingOf(head) is not { } encoding)
        {
            Decode(head, Encoding.Latin1);
            Cut();
            return new(new(0, 18), 103, "MSH-18 is not one of UNICODE UTF-8, ASCII, 8859/1 to 8859/9 and 8859/15");
        }

        Encoding = encoding;
        if (!Decode(bytes, encoding))
        {
            Decode(head, Encoding.Latin1);
            Cut();
            return new(new(0, 18), 102, bytes.Contains((byte)0) ? "the message holds zero bytes"
                : "the text is not in the character set that MSH-18 states (none: UTF-8)");
        }

        return Cut();
    }

    /// <summary>The n-th part (1-based) of a text between separators; empty when there are fewer.</summary>
    public static ReadOnlySpan<char> Part(ReadOnlySpan<char> text, char separator, int n)
    {
        while (--n > 0)
        {
            var cut = text.IndexOf(separator);
            if (cut < 0) return default;
            text = text[(cut + 1)..];
        }

        var end = text.IndexOf(separator);
        return end < 0 ? text : text[..end];
    }

    public ReadOnlySpan<char> Repetition(ReadOnlySpan<char> field, int n) => Part(field, Delimiters.Repetition, n);

    /// <summary>Repetitions of a field; an empty field has none.</summary>
    public int Repetitions(ReadOnlySpan<char> field) => field.IsEmpty ? 0 : field.Count(Delimiters.Repetition) + 1;

    /// <summary>The first subcomponent of a component of one repetition.</summary>
    public ReadOnlySpan<char> Component(ReadOnlySpan<char> repetition, int n) =>
        Part(Part(repetition, Delimiters.Component, n), Delimiters.Subcomponent, 1);

    /// <summary>A component of a field's first repetition.</summary>
    public ReadOnlySpan<char> Value(int segment, int field, int component = 1) =>
        Component(Repetition(Field(segment, field), 1), component);

    /// <summary>Which one of its name the segment is, 1-based: the "segment sequence" of an error location.</summary>
    public int SequenceOf(int segment)
    {
        var n = 0;
        for (var i = 0; i <= segment && i < SegmentCount; i++)
            if (Name(i).SequenceEqual(Name(segment))) n++;
        return Math.Max(1, n);
    }

    private static bool TryDelimiters(ReadOnlySpan<byte> head, out Delimiters delimiters)
    {
        delimiters = Delimiters.Usual;
        if (head.Length < 9 || !head.StartsWith("MSH"u8)) return false;
        var separator = head[3];
        var characters = head[4..];
        var end = characters.IndexOf(separator);
        if (end is not (4 or 5)) return false;
        characters = characters[..end];
        for (var i = 0; i < end; i++)
        {
            var c = characters[i];
            if (c is <= (byte)' ' or >= 0x7F || char.IsAsciiLetterOrDigit((char)c) || c == separator || characters[..i].Contains(c))
                return false;
        }

        if (separator is <= (byte)' ' or >= 0x7F || char.IsAsciiLetterOrDigit((char)separator)) return false;
        delimiters = new((char)separator, (char)characters[0], (char)characters[1], (char)characters[2], (char)characters[3],
            end == 5 ? (char)characters[4] : '\0');
        return true;
    }

    /// <summary>MSH-18's first repetition says how the text is encoded; without it UTF-8, whose ASCII is the standard's default.</summary>
    private Encoding? EncodingOf(ReadOnlySpan<byte> head)
    {
        for (var field = 1; field < 18; field++)
        {
            var cut = head.IndexOf((byte)Delimiters.Field);
            if (cut < 0) return Encoding.UTF8;
            head = head[(cut + 1)..];
        }

        var end = head.IndexOfAny((byte)Delimiters.Field, (byte)Delimiters.Repetition);
        return CharacterSets.Find(end < 0 ? head : head[..end]);
    }

    private bool Decode(ReadOnlySpan<byte> bytes, Encoding encoding)
    {
        if (_text.Length < bytes.Length) _text = new char[Math.Max(bytes.Length, _text.Length * 2)];
        if (bytes.Contains((byte)0)) return false;
        if (encoding == Encoding.UTF8)
            return Utf8.ToUtf16(bytes, _text, out _, out _length, replaceInvalidSequences: false) == OperationStatus.Done;
        if (encoding == Encoding.ASCII) return Ascii.ToUtf16(bytes, _text, out _length) == OperationStatus.Done;
        _length = encoding.GetChars(bytes, _text);
        return !_text.AsSpan(0, _length).Contains('\uFFFD');
    }

    /// <summary>One pass over the text: where fields and segments end.</summary>
    private UnreadableMessage? Cut()
    {
        var text = _text.AsSpan(0, _length);
        var separator = Delimiters.Field;
        var (start, first) = (0, 0);
        for (var at = 0; at <= text.Length; at++)
        {
            var c = at < text.Length ? text[at] : '\r';
            if (c == separator)
            {
                if (_cutCount == _cuts.Length) Array.Resize(ref _cuts, _cuts.Length * 2);
                _cuts[_cutCount++] = at;
            }
            else if (c is '\r' or '\n')
            {
                if (at > start)
                {
                    if (SegmentCount == MaxSegments) return new(new(0), 102, $"the message has more than {MaxSegments} segments");
                    if (SegmentCount == _segments.Length) Array.Resize(ref _segments, _segments.Length * 2);
                    _segments[SegmentCount++] = new(start, at - start, first, _cutCount - first);
                    if (!IsName(text[start..at]))
                        return new(new(SegmentCount - 1), 100, "a line does not begin with the three-letter name of a segment");
                }

                (start, first) = (at + 1, _cutCount);
            }
        }

        return null;
    }

    private bool IsName(ReadOnlySpan<char> segment) =>
        segment.Length >= 3 && char.IsAsciiLetterUpper(segment[0]) && IsUpperOrDigit(segment[1]) && IsUpperOrDigit(segment[2])
        && (segment.Length == 3 || segment[3] == Delimiters.Field);

    private static bool IsUpperOrDigit(char c) => char.IsAsciiLetterUpper(c) || char.IsAsciiDigit(c);
}
