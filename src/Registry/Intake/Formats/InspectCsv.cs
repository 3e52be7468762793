using System.Buffers;
using System.Text;
using Registry.Records;

namespace Registry.Intake.Formats;

/// <summary>
/// RFC 4180: records of equal field count, a quoted field may hold commas, line breaks and doubled quotes, a quote
/// appears nowhere else. Line ends CRLF (the standard's), LF or CR; a blank line is not a row.
/// </summary>
public sealed class InspectCsv(RowKind? defaultKind) : InspectSubmission
{
    /// <summary>A row longer than this is taken for a quote that is not closed.</summary>
    public const int MaxRowBytes = 64 * 1024;
    private static readonly SearchValues<byte> Special = SearchValues.Create("\",\r\n"u8);

    private enum Place { FieldStart, Unquoted, Quoted, AfterQuote }

    private readonly List<byte> _header = [];
    private Place _place = Place.FieldStart;
    private bool _headerDone, _rowStarted, _afterCarriageReturn;
    private int _columns, _fields = 1, _quoteRow;
    private long _rowBytes, _headerBytes;

    /// <summary>The file's encoding, for its header; known when all of it was seen.</summary>
    public TextEncoding Encoding { get; set; } = TextEncoding.Utf8;

    /// <summary>What the columns mean, when they are not ours.</summary>
    public ColumnMapping? Mapping { get; set; }

    public override void Feed(ReadOnlySpan<byte> bytes)
    {
        while (!bytes.IsEmpty && !IsHopeless)
        {
            // Whole stretches without a special byte are skipped at once.
            var stop = _place == Place.Quoted ? bytes.IndexOf((byte)'"') : bytes.IndexOfAny(Special);
            if (stop != 0)
            {
                var stretch = stop < 0 ? bytes : bytes[..stop];
                Keep(stretch);
                if (_place == Place.AfterQuote) Add(CurrentRow, null, "text after a closing quote");
                if (_place != Place.Quoted) _place = Place.Unquoted;
                _rowStarted = true;
                _afterCarriageReturn = false;
                bytes = bytes[stretch.Length..];
                continue;
            }

            Step(bytes[0]);
            bytes = bytes[1..];
        }
    }

    private void Step(byte b)
    {
        if (b is (byte)'\r' or (byte)'\n')
        {
            var endsPrevious = b == '\n' && _afterCarriageReturn;
            _afterCarriageReturn = b == '\r';
            if (!endsPrevious) EndRecord();
            return;
        }

        _afterCarriageReturn = false;
        _rowStarted = true;
        Keep([b]);
        if (b == ',')
        {
            _fields++;
            _place = Place.FieldStart;
            return;
        }

        switch (_place)
        {
            case Place.FieldStart: _place = Place.Quoted; _quoteRow = CurrentRow; break;
            case Place.Quoted: _place = Place.AfterQuote; break;
            case Place.AfterQuote: _place = Place.Quoted; break;
            case Place.Unquoted:
                Add(
                CurrentRow, null, "a quote inside a field that does not start with one (quote the field and double the quote)"); break;
        }
    }

    private void EndRecord()
    {
        _place = Place.FieldStart;
        if (!_rowStarted)
        {
            if (!_headerDone && Problems.Count == 0) Add(0, null, "the first line is blank: the header row must come first");
            return;
        }

        if (!_headerDone)
        {
            _headerDone = true;
            _headerBytes = _rowBytes;
            _columns = _fields;
        }
        else
        {
            RowCount++;
            if (_fields != _columns) Add(RowCount, null, $"has {_fields} fields where the header has {_columns}");
        }

        _rowStarted = false;
        _rowBytes = 0;
        _fields = 1;
    }

    public override void End()
    {
        if (!IsHopeless)
        {
            if (_place == Place.Quoted) Add(_quoteRow, null, "a quoted field is not closed: the file ends inside it");
            else if (_rowStarted) EndRecord();
        }

        if (!_headerDone)
        {
            if (Problems.Count == 0) Add(0, null, "the file is empty: a header row with column names is needed");
            return;
        }

        if (_headerBytes <= MaxRowBytes) Problems.InsertRange(0, PlaceCells.CheckHeader(Header(), defaultKind, Mapping));
        if (Problems.Count > MaxProblems) Problems.RemoveRange(MaxProblems, Problems.Count - MaxProblems);
        if (RowCount == 0 && Problems.Count == 0) Add(0, null, "the file has a header but no rows");
    }

    /// <summary>The names of the columns.</summary>
    public IReadOnlyList<string> Header()
    {
        var text = _header.ToArray();
        try
        {
            return SplitRow(DetectEncoding.Of(Encoding).GetString(text));
        }
        catch (DecoderFallbackException)
        {
            return SplitRow(DetectEncoding.Of(TextEncoding.Windows1252).GetString(text));
        }
    }

    /// <summary>The cells of one row, without their quotes and the spaces around them.</summary>
    public static IReadOnlyList<string> SplitRow(string row)
    {
        var (cells, start, quoted) = (new List<string>(), 0, false);
        for (var i = 0; i <= row.Length; i++)
        {
            if (i < row.Length && row[i] == '"') quoted = !quoted;
            if (i < row.Length && (row[i] != ',' || quoted)) continue;
            cells.Add(NameOf(row[start..i]));
            start = i + 1;
        }

        return cells;
    }

    /// <summary>The row the current bytes belong to: 0 for the header.</summary>
    private int CurrentRow => _headerDone ? RowCount + 1 : 0;

    private void Keep(ReadOnlySpan<byte> bytes)
    {
        var before = _rowBytes;
        _rowBytes += bytes.Length;
        if (before <= MaxRowBytes && _rowBytes > MaxRowBytes)
        {
            Add(CurrentRow, null, $"is longer than {MaxRowBytes} bytes (is a quote not closed?)");
        }

        if (!_headerDone && _rowBytes <= MaxRowBytes) _header.AddRange(bytes);
    }

    /// <summary>A column's name without the quotes and spaces around it.</summary>
    public static string NameOf(string header)
    {
        var name = header.Trim();
        return (name is ['"', .., '"'] ? name[1..^1].Replace("\"\"", "\"", StringComparison.Ordinal) : name.Trim('"')).Trim();
    }
}
