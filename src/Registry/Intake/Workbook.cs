using System.Globalization;
using System.IO.Compression;
using DocumentFormat.OpenXml;
using DocumentFormat.OpenXml.Packaging;
using DocumentFormat.OpenXml.Spreadsheet;

namespace Registry.Intake;

/// <summary>
/// A workbook (ECMA-376, .xlsx) as a table: the header and the rows of one sheet, each cell as a reader of it sees it. Formulas give
/// the value they last had. Rows are read one after another; of the rest only the shared texts are in memory.
/// </summary>
public sealed class Workbook : IDisposable
{
    /// <summary>A sheet has at most this many columns and rows.</summary>
    private const int MaxColumns = 16_384;
    private const int MaxSheetRows = 1_048_576;
    private const int MaxParts = 2_000;
    private const int MaxHeader = 500;
    private const long SmallBytes = 1024 * 1024;

    private readonly SpreadsheetDocument _document;
    private readonly CellText _text;
    private readonly OpenXmlReader _rows;
    private readonly List<(int Column, string Reason)> _problems = [];
    private string[] _cells = [];

    private Workbook(SpreadsheetDocument document, string? sheet)
    {
        _document = document;
        var part = document.WorkbookPart ?? throw new InvalidDataException();
        _text = new CellText(part);
        _rows = OpenXmlReader.Create((WorksheetPart)part.GetPartById(Find(part, sheet).Id!));
        ReadHeader();
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
    /// <exception cref="UnreadableFileException">It is no workbook, protected, too large, or has no such sheet.</exception>
    public static Workbook Open(Stream bytes, string? sheet, IntakeOptions? limits = null)
    {
        SpreadsheetDocument? document = null;
        try
        {
            if (limits is not null) CheckParts(bytes, limits);
            bytes.Position = 0;
            document = SpreadsheetDocument.Open(bytes, isEditable: false);
            return new Workbook(document, sheet);
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
    }

    private static bool IsUnreadable(Exception e) => e is InvalidDataException or System.Xml.XmlException or OpenXmlPackageException or FileFormatException
        or FormatException or OverflowException or ArgumentException or InvalidOperationException or NullReferenceException or InvalidCastException or KeyNotFoundException;

    /// <summary>A workbook is a zip archive; no part unpacks to more than the archive says, so what it says is added up.</summary>
    private static void CheckParts(Stream bytes, IntakeOptions limits)
    {
        var start = new byte[4];
        bytes.Position = 0;
        var length = bytes.ReadAtLeast(start, 4, throwOnEndOfStream: false);
        if (start.AsSpan(0, length) is [0xD0, 0xCF, 0x11, 0xE0])
            throw new UnreadableFileException(0, null, "the workbook is protected by a password, or of the old .xls kind: save it as .xlsx without a password");
        bytes.Position = 0;
        using var archive = new ZipArchive(bytes, ZipArchiveMode.Read, leaveOpen: true);
        if (archive.Entries.Count > MaxParts) throw new UnreadableFileException(0, null, $"the workbook has more than {MaxParts} parts");
        var total = 0L;
        foreach (var part in archive.Entries)
        {
            total += part.Length;
            if (total > limits.MaxBytes) throw new UnreadableFileException(0, null, $"the workbook unpacks to more than {limits.MaxBytes} bytes");
            if (part.Length > SmallBytes && part.Length > part.CompressedLength * limits.MaxRatio)
                throw new UnreadableFileException(0, null, $"a part of the workbook unpacks to more than {limits.MaxRatio} times its size");
            // All but the sheets is held in memory.
            if (part.Length > limits.MaxSharedTextBytes && !part.FullName.Contains("/worksheets/", StringComparison.OrdinalIgnoreCase))
                throw new UnreadableFileException(0, null, $"a part of the workbook beside its sheets is larger than {limits.MaxSharedTextBytes} bytes: send CSV");
        }
    }

    private static Sheet Find(WorkbookPart part, string? name)
    {
        var sheets = part.Workbook?.Sheets?.Elements<Sheet>().Where(s => s.Id is not null).ToList() ?? [];
        var found = name is null
            ? sheets.Find(s => s.State is null || s.State == SheetStateValues.Visible)
            : sheets.Find(s => string.Equals(s.Name?.Value?.Trim(), name.Trim(), StringComparison.OrdinalIgnoreCase));
        return found ?? throw new UnreadableFileException(0, "sheet", name is null
            ? "the workbook shows no sheet" : $"there is no sheet of this name; there are: {string.Join(", ", sheets.Take(20).Select(s => s.Name?.Value))}");
    }

    private void ReadHeader()
    {
        while (NextRow())
        {
            var names = new List<string>();
            foreach (var (column, cell) in CellsOfRow())
            {
                var name = _text.Of(cell, out _).Trim();
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
        foreach (var (column, cell) in CellsOfRow())
        {
            var text = _text.Of(cell, out var problem);
            if (problem is not null) _problems.Add((column < _cells.Length ? column : -1, problem));
            if (column < _cells.Length) _cells[column] = text;
            else if (text.Length > 0 && !_problems.Exists(p => p.Column < 0)) _problems.Add((-1, "has a value right of the last column of the header"));
            any |= text.Length > 0;
        }

        return any || _problems.Count > 0;
    }

    private bool NextRow()
    {
        while (_rows.Read())
        {
            if (_rows.ElementType != typeof(Row) || !_rows.IsStartElement) continue;
            var number = _rows.Attributes.FirstOrDefault(a => a.LocalName == "r").Value;
            var line = number is null ? Line + 1 : int.Parse(number, NumberStyles.None, CultureInfo.InvariantCulture);
            if (line <= Line || line > MaxSheetRows) throw new InvalidDataException();
            Line = line;
            return true;
        }

        return false;
    }

    private IEnumerable<(int Column, Cell Cell)> CellsOfRow()
    {
        if (!_rows.ReadFirstChild()) yield break;
        var next = 0;
        do
        {
            if (_rows.ElementType != typeof(Cell)) continue;
            var cell = (Cell)_rows.LoadCurrentElement()!;
            var column = cell.CellReference?.Value is { } reference ? ColumnOf(reference) : next;
            if (column < next || column >= MaxColumns) throw new InvalidDataException();
            next = column + 1;
            yield return (column, cell);
        }
        while (_rows.ReadNextSibling());
    }

    /// <summary>The column, counted from 0, of a reference such as <c>AB12</c>.</summary>
    private static int ColumnOf(string reference)
    {
        var column = 0;
        foreach (var c in reference.TakeWhile(char.IsAsciiLetter).Take(4)) column = (column * 26) + (char.ToUpperInvariant(c) - 'A' + 1);
        return column - 1;
    }
}
