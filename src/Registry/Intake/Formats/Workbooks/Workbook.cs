using System.Globalization;
using System.Text;
using DocumentFormat.OpenXml.Packaging;
using Registry.Intake.Raw;
using Registry.Intake.Rows;

namespace Registry.Intake.Formats.Workbooks;

/// <summary>
/// A workbook (ECMA-376, .xlsx) as a table: the header and the rows of one sheet, each cell as a reader of it sees it. Formulas give
/// the value they last had. Rows are read one after another; of the rest only the shared texts are in memory, up to
/// <see cref="IntakeOptions.MaxSharedTextBytes"/>.
/// </summary>
public sealed class Workbook : IDisposable
{
    /// <summary>A sheet has at most this many columns and rows.</summary>
    private const int MaxColumns = 16_384;
    private const int MaxSheetRows = 1_048_576;
    private const int MaxHeader = 500;
    private const int MaxSheets = 1_000;

    /// <summary>Parts beside the sheets and the shared texts: names of sheets, ways to show cells.</summary>
    private const long SmallCharacters = 4 * 1024 * 1024;

    /// <summary>So many are open at once, each with its shared texts; the others wait.</summary>
    private static readonly SemaphoreSlim Turns = new(8);

    private readonly SpreadsheetDocument _document;
    private readonly CellText _text;
    private readonly ReadPart _rows;
    private readonly StringBuilder _value = new();
    private readonly List<(int Column, string Reason)> _problems = [];
    private string[] _cells = [];
    private bool _ended, _hasTurn;

    private Workbook(SpreadsheetDocument document, string? sheet, IntakeOptions? limits)
    {
        var longest = limits?.MaxBytes ?? long.MaxValue;
        _document = document;
        var workbook = document.WorkbookPart ?? throw new InvalidDataException();
        var (part, from1904) = Find(workbook, sheet);
        _text = new CellText(from1904);
        if (workbook.WorkbookStylesPart is { } styles)
        {
            using var read = Small(styles);
            _text.ReadStyles(read);
        }

        if (workbook.SharedStringTablePart is { } shared)
        {
            using var read = new ReadPart(shared.GetStream(FileMode.Open, FileAccess.Read), longest, "");
            _text.ReadShared(read, limits?.MaxSharedTextBytes ?? long.MaxValue);
        }

        _rows = new(part.GetStream(FileMode.Open, FileAccess.Read), longest, $"the sheet unpacks to more than {longest} characters");
        try
        {
            ReadHeader();
        }
        catch
        {
            _rows.Dispose();
            throw;
        }
    }

    public IReadOnlyList<string> Header { get; private set; } = [];

    /// <summary>The current row of the sheet, counted from 1.</summary>
    public int Line { get; private set; }

    /// <summary>The current row's cells, as many as the header has.</summary>
    public IReadOnlyList<string> Cells => _cells;

    /// <summary>What cannot be read in the current row, by column; -1: right of the header.</summary>
    public IReadOnlyList<(int Column, string Reason)> Problems => _problems;

    /// <param name="bytes">The workbook; read from any position.</param>
    /// <param name="sheet">Name of a sheet; null for the first that is shown.</param>
    /// <param name="limits">How large the parts may be once unpacked; null where that was looked at before.</param>
    /// <param name="ct">Cancels.</param>
    /// <exception cref="UnreadableFileException">It is no workbook, protected, too large, or has no such sheet.</exception>
    public static async Task<Workbook> OpenAsync(Stream bytes, string? sheet, IntakeOptions? limits, CancellationToken ct)
    {
        await Turns.WaitAsync(ct);
        try
        {
            var workbook = Open(bytes, sheet, limits);
            workbook._hasTurn = true;
            return workbook;
        }
        catch
        {
            Turns.Release();
            throw;
        }
    }

    /// <summary>As <see cref="OpenAsync"/>, without waiting for a turn.</summary>
    public static Workbook Open(Stream bytes, string? sheet, IntakeOptions? limits = null)
    {
        SpreadsheetDocument? document = null;
        try
        {
            if (limits is not null) CheckArchive.Run(bytes, limits);
            bytes.Position = 0;
            document = SpreadsheetDocument.Open(bytes, isEditable: false);
            return new Workbook(document, sheet, limits);
        }
        catch (Exception e)
        {
            document?.Dispose();
            if (!IsUnreadable(e)) throw;
            throw new UnreadableFileException(0, null, "is not a sound .xlsx workbook");
        }
    }

    /// <summary>Goes to the next row that is not blank.</summary>
    /// <exception cref="UnreadableFileException"/>
    public bool Next()
    {
        try
        {
            while (NextRow())
            {
                if (!ReadRow()) continue;
                return true;
            }

            return false;
        }
        catch (Exception e) when (IsUnreadable(e))
        {
            throw new UnreadableFileException(0, null, $"is not a sound .xlsx workbook at row {Line} of the sheet or after it");
        }
    }

    public void Dispose()
    {
        _rows.Dispose();
        _document.Dispose();
        if (_hasTurn) Turns.Release();
        _hasTurn = false;
    }

    private static bool IsUnreadable(Exception e) =>
        e is InvalidDataException or System.Xml.XmlException or OpenXmlPackageException or FileFormatException
        or FormatException or OverflowException or ArgumentException or InvalidOperationException or NullReferenceException or InvalidCastException or KeyNotFoundException;

    private static ReadPart Small(OpenXmlPart part) => new(
        part.GetStream(FileMode.Open, FileAccess.Read), SmallCharacters,
        $"a part of the workbook beside its sheets and texts is longer than {SmallCharacters} characters: send CSV");

    /// <summary>The sheet of a name, or the first worksheet that is shown; a sheet that is a chart has no rows.</summary>
    private static (WorksheetPart Part, bool From1904) Find(WorkbookPart workbook, string? name)
    {
        var sheets = new List<(string Name, OpenXmlPart Part, bool IsShown)>();
        var from1904 = false;
        using (var read = Small(workbook))
        {
            while (read.Read())
            {
                if (!read.IsStart) continue;
                if (read.Name == "workbookPr") from1904 = read.Attribute("date1904") is "1" or "true";
                if (read.Name != "sheet" || read.AttributeOfAny("id") is not { } id) continue;
                if (sheets.Count == MaxSheets) throw new InvalidDataException();
                sheets.Add((read.Attribute("name") ?? "", workbook.GetPartById(id), read.Attribute("state") is null or "visible"));
            }
        }

        var found = name is null
            ? sheets.Find(s => s is { IsShown: true, Part: WorksheetPart })
            : sheets.Find(s => s.Part is WorksheetPart && string.Equals(s.Name.Trim(), name.Trim(), StringComparison.OrdinalIgnoreCase));
        return found.Part is WorksheetPart part ? (part, from1904) : throw new UnreadableFileException(0, "sheet", name is null
            ? "the workbook shows no sheet"
                : $"there is no sheet of this name; there are: "
                + $"{string.Join(", ", sheets.Where(s => s.Part is WorksheetPart).Take(20).Select(s => s.Name))}");
    }

    private void ReadHeader()
    {
        while (NextRow())
        {
            var names = new List<string>();
            foreach (var (column, cell, _) in CellsOfRow())
            {
                var name = cell.Trim();
                if (name.Length == 0) continue;
                if (column >= MaxHeader) throw new UnreadableFileException(0, null, $"the header has more than {MaxHeader} columns");
                while (names.Count <= column) names.Add("");
                names[column] = name;
            }

            if (names.Count == 0) continue;
            Header = names;
            _cells = new string[names.Count];
            return;
        }

        throw new UnreadableFileException(0, null, "the sheet is empty: a header row with column names is needed");
    }

    /// <summary>False for a blank row.</summary>
    private bool ReadRow()
    {
        _problems.Clear();
        Array.Fill(_cells, "");
        var any = false;
        foreach (var (column, text, problem) in CellsOfRow())
        {
            if (problem is not null) _problems.Add((column < _cells.Length ? column : -1, problem));
            if (column < _cells.Length) _cells[column] = text;
            else if (text.Length > 0 && !_problems.Exists(p => p.Column < 0))
                _problems.Add((-1, "has a value right of the last column of the header"));
            any |= text.Length > 0;
        }

        return any || _problems.Count > 0;
    }

    private bool NextRow()
    {
        while (!_ended && _rows.Read())
        {
            // Nothing after the rows is looked at.
            if (_rows.IsEnd && _rows.Name == "sheetData") _ended = true;
            if (!_rows.IsStart || _rows.Name != "row") continue;
            var number = _rows.Attribute("r");
            var line = number is null ? Line + 1 : int.Parse(number, NumberStyles.None, CultureInfo.InvariantCulture);
            if (line <= Line || line > MaxSheetRows) throw new InvalidDataException();
            Line = line;
            return true;
        }

        return false;
    }

    private IEnumerable<(int Column, string Text, string? Problem)> CellsOfRow()
    {
        if (_rows.IsEmpty) yield break;
        var (depth, next, characters) = (_rows.Depth, 0, 0);
        while (_rows.NextIn(depth))
        {
            if (_rows.Name != "c")
            {
                _rows.Skip();
                continue;
            }

            var column = _rows.Attribute("r") is { } reference ? ColumnOf(reference) : next;
            if (column < next || column >= MaxColumns) throw new InvalidDataException();
            next = column + 1;
            var text = ReadCell(out var problem);
            characters += text.Length;
            if (characters > RowBatch.MaxValue)
                throw new UnreadableFileException(0, null, $"row {Line} of the sheet is longer than {RowBatch.MaxValue} characters");
            yield return (column, text, problem);
        }
    }

    private string ReadCell(out string? problem)
    {
        var (type, style) = (_rows.Attribute("t"), _rows.Attribute("s"));
        _value.Clear();
        if (!_rows.IsEmpty)
        {
            var depth = _rows.Depth;
            var fits = true;
            while (fits && _rows.NextIn(depth))
            {
                if (_rows.Name == "v" && type != "inlineStr") fits = _rows.AddText(_value, RowBatch.MaxValue);
                else if (_rows.Name == "is" && type == "inlineStr") fits = _rows.AddRuns(_value, RowBatch.MaxValue);
                else _rows.Skip();
            }

            if (!fits) throw new UnreadableFileException(
                0, null, $"row {Line} of the sheet has a value longer than {RowBatch.MaxValue} characters");
        }

        return _text.Of(type, style, _value.ToString(), out problem);
    }

    /// <summary>The column, counted from 0, of a reference such as <c>AB12</c>.</summary>
    private static int ColumnOf(string reference)
    {
        var column = 0;
        foreach (var c in reference.TakeWhile(char.IsAsciiLetter).Take(4)) column = (column * 26) + (char.ToUpperInvariant(c) - 'A' + 1);
        return column - 1;
    }
}
