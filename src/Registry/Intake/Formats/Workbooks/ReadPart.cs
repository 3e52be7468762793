using System.Buffers;
using System.Text;
using System.Xml;
using Registry.Intake.Rows;

namespace Registry.Intake.Formats.Workbooks;

/// <summary>
/// Reads one part of a workbook from its beginning, holding no more than one element's own text of it: whatever a part unpacks to, and
/// however it is made, the memory is bounded. No document type is allowed, so there are no entities to expand.
/// </summary>
internal sealed class ReadPart : IDisposable
{
    /// <summary>Deeper than any workbook goes.</summary>
    private const int MaxDepth = 64;

    private readonly XmlReader _xml;

    /// <param name="bytes">The part, in UTF-8 or, with a byte order mark, UTF-16 (ECMA-376 part 2, 8.1.4).</param>
    /// <param name="maxCharacters">How long the part may be.</param>
    /// <param name="tooLong">What is said of a longer one.</param>
    public ReadPart(Stream bytes, long maxCharacters, string tooLong) => _xml = XmlReader.Create(
        new Pieces(new StreamReader(bytes, new UTF8Encoding(false, true)), maxCharacters, tooLong),
        new XmlReaderSettings
        {
            DtdProcessing = DtdProcessing.Prohibit,
            XmlResolver = null,
            IgnoreComments = true,
            IgnoreProcessingInstructions = true,
            CloseInput = true,
            NameTable = new FewNames(),
        });

    public int Depth => _xml.Depth;

    /// <summary>The element's name without its prefix: the two editions of the standard differ in their namespaces only.</summary>
    public string Name => _xml.LocalName;
    public bool IsStart => _xml.NodeType == XmlNodeType.Element;
    public bool IsEnd => _xml.NodeType == XmlNodeType.EndElement;
    public bool IsEmpty => _xml.IsEmptyElement;

    /// <summary>An attribute's value by its name without prefix; null where it is not stated.</summary>
    public string? Attribute(string name) => _xml.GetAttribute(name);

    /// <summary>An attribute of any namespace.</summary>
    public string? AttributeOfAny(string name)
    {
        string? value = null;
        for (var more = _xml.MoveToFirstAttribute(); more; more = _xml.MoveToNextAttribute())
            if (_xml.LocalName == name && _xml.Prefix != "xmlns") value = _xml.Value;
        _xml.MoveToElement();
        return value;
    }

    /// <exception cref="XmlException">The part is not well-formed.</exception>
    public bool Read()
    {
        if (!_xml.Read()) return false;
        return _xml.Depth <= MaxDepth ? true : throw new InvalidDataException();
    }

    /// <summary>Goes to the next element inside the one at <paramref name="depth"/>; false at its end.</summary>
    public bool NextIn(int depth)
    {
        while (Read())
        {
            if (IsStart) return true;
            if (IsEnd && _xml.Depth <= depth) return false;
        }

        return false;
    }

    /// <summary>Passes over the current element.</summary>
    public void Skip()
    {
        var depth = Depth;
        if (IsEmpty) return;
        while (Read() && !(IsEnd && Depth == depth))
        {
        }
    }

    /// <summary>Adds the text of the current element, without that of elements in it, until so many characters are there.</summary>
    /// <returns>False when there are more.</returns>
    public bool AddText(StringBuilder to, int max)
    {
        var depth = Depth;
        if (IsEmpty) return true;
        while (Read() && !(IsEnd && Depth == depth))
        {
            if (_xml.NodeType is not (XmlNodeType.Text or XmlNodeType.CDATA or XmlNodeType.Whitespace or XmlNodeType.SignificantWhitespace)
                || _xml.Depth != depth + 1) continue;
            var text = _xml.Value;
            if (to.Length + text.Length > max) return false;
            to.Append(text);
        }

        return true;
    }

    /// <summary>Adds the texts <c>t</c> of a shared or inline text: its own and its runs', not how it is spoken (18.4.8, 18.4.4,
    /// 18.4.6).</summary>
    /// <returns>False when there are more characters than <paramref name="max"/>.</returns>
    public bool AddRuns(StringBuilder to, int max)
    {
        var depth = Depth;
        if (IsEmpty) return true;
        while (NextIn(depth))
        {
            if (Name == "t")
            {
                if (!AddText(to, max)) return false;
            }
            else if (Name != "r") Skip();
        }

        return true;
    }

    public void Dispose() => _xml.Dispose();

    /// <summary>A text whose markup comes in pieces of bounded length: a tag with the text after it, a comment, a section of
    /// characters.</summary>
    private sealed class Pieces(TextReader text, long maxCharacters, string tooLong) : TextReader
    {
        /// <summary>64 KiB of text, each character written as a reference, and room.</summary>
        private const int MaxPiece = 1024 * 1024;

        private static readonly SearchValues<char> Tag = SearchValues.Create("<");
        private static readonly SearchValues<char> End = SearchValues.Create(">");
        private long _total, _piece;

        /// <summary>What ends the piece in which a <c>&lt;</c> begins no other: <c>]</c> or <c>-</c>, or zero outside.</summary>
        private char _closes;

        /// <summary>The last two characters.</summary>
        private char _before, _last;

        public override int Read(char[] buffer, int index, int count)
        {
            var length = text.Read(buffer, index, count);
            _total += length;
            if (_total > maxCharacters) throw new UnreadableFileException(0, null, tooLong);
            Follow(buffer.AsSpan(index, length));
            return length;
        }

        public override int Read() => throw new NotSupportedException();
        public override int Peek() => throw new NotSupportedException();

        protected override void Dispose(bool disposing)
        {
            if (disposing) text.Dispose();
            base.Dispose(disposing);
        }

        private void Follow(ReadOnlySpan<char> piece)
        {
            while (!piece.IsEmpty)
            {
                // <![CDATA[ and <!-- are known by their third character.
                if (_closes == 0 && _before == '<' && _last == '!' && piece[0] is '[' or '-') _closes = piece[0] == '[' ? ']' : '-';
                var at = piece.IndexOfAny(_closes == 0 ? Tag : End);
                // What begins with <! is decided one character at a time.
                var take = _closes == 0 && _last is '<' or '!' ? 1 : at < 0 ? piece.Length : at + 1;
                _piece += take;
                if (_piece > MaxPiece)
                    throw new UnreadableFileException(0, null, "an element of the workbook is longer than a mebibyte: send CSV");
                var (before, last) = take > 1 ? (piece[take - 2], piece[take - 1]) : (_last, piece[0]);
                if (_closes == 0 && last == '<') _piece = 0;
                else if (_closes != 0 && last == '>' && before == _closes) (_closes, _piece) = ('\0', 0);
                (_before, _last) = (before, last);
                piece = piece[take..];
            }
        }
    }

    /// <summary>A workbook has some hundred names of elements and attributes.</summary>
    private sealed class FewNames : NameTable
    {
        private const int Most = 4_096;
        private int _count;

        public override string Add(char[] key, int start, int len)
        {
            if (Get(key, start, len) is { } known) return known;
            return ++_count <= Most ? base.Add(key, start, len) : throw new InvalidDataException();
        }
    }
}
