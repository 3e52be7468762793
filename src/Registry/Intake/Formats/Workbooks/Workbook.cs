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
    private const int MaxHeader = 500;
    private const int MaxSheets = 1_000;

    /// <summary>Parts beside the sheets and the shared texts: names of sheets, ways to show cells.</summary>
    private const long SmallCharacters = 4 * 1024 * 1024;

    /// <summary>So many are open at once, each with its shared texts; the others wait.</summary>
    private static readonly SemaphoreSlim Turns = new(8);

    private readonly SpreadsheetDocument _document;
    private readonly SheetRows _rows;
    private readonly List<(int Column, string Reason)> _problems = [];
    private string[] _cells = [];
    private bool _hasTurn;

    private Workbook(SpreadsheetDocument document, string? sheet, IntakeOptions? limits)
    {
        var longest = limits?.MaxBytes ?? long.MaxValue;
        _document = document;
        var workbook = document.WorkbookPart ?? throw new InvalidDataException();
        var (part, from1904) = Find(workbook, sheet);
        var text = ReadTexts(workbook, from1904, longest, limits);
        _rows = new(new(part.GetStream(FileMode.Open, FileAccess.Read), longest, $"the sheet unpacks to more than {longest} characters"),
            text);
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
    public int Line => _rows.Line;

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
            while (_rows.NextRow())
                if (ReadRow()) return true;
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
        e is InvalidDataException or System.Xml.XmlException or OpenXmlPackageException or FileFormatException or FormatException
            or OverflowException or ArgumentException or InvalidOperationException or NullReferenceException or InvalidCastException
            or KeyNotFoundException;

    /// <summary>What the cells of every sheet refer to: ways to show them, shared texts.</summary>
    private static CellText ReadTexts(WorkbookPart workbook, bool from1904, long longest, IntakeOptions? limits)
    {
        var text = new CellText(from1904);
        if (workbook.WorkbookStylesPart is { } styles)
        {
            using var read = Small(styles);
            text.ReadStyles(read);
        }

        if (workbook.SharedStringTablePart is { } shared)
        {
            using var read = new ReadPart(shared.GetStream(FileMode.Open, FileAccess.Read), longest, "");
            text.ReadShared(read, limits?.MaxSharedTextBytes ?? long.MaxValue);
        }

        return text;
    }

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
        if (found.Part is WorksheetPart part) return (part, from1904);
        throw new UnreadableFileException(0, "sheet", name is null
            ? "the workbook shows no sheet"
            : "there is no sheet of this name; there are: "
                + string.Join(", ", sheets.Where(s => s.Part is WorksheetPart).Take(20).Select(s => s.Name)));
    }

    private void ReadHeader()
    {
        while (_rows.NextRow())
        {
            var names = new List<string>();
            foreach (var (column, cell, _) in _rows.Cells())
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
        foreach (var (column, text, problem) in _rows.Cells())
        {
            if (problem is not null) _problems.Add((column < _cells.Length ? column : -1, problem));
            if (column < _cells.Length) _cells[column] = text;
            else if (text.Length > 0 && !_problems.Exists(p => p.Column < 0))
                _problems.Add((-1, "has a value right of the last column of the header"));
            any |= text.Length > 0;
        }

        return any || _problems.Count > 0;
    }
}
