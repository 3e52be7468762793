using System.Globalization;
using System.Text;
using Registry.Intake.Rows;

namespace Registry.Intake.Formats.Workbooks;

/// <summary>Walks the rows of one sheet and their cells, forwards only.</summary>
/// <param name="part">The sheet.</param>
/// <param name="texts">What its cells refer to.</param>
internal sealed class SheetRows(ReadPart part, CellText texts) : IDisposable
{
    /// <summary>A sheet has at most this many columns and rows.</summary>
    private const int MaxColumns = 16_384;
    private const int MaxSheetRows = 1_048_576;

    private readonly StringBuilder _value = new();
    private bool _ended;

    /// <summary>The current row of the sheet, counted from 1.</summary>
    public int Line { get; private set; }

    public void Dispose() => part.Dispose();

    /// <summary>Goes to the next row, blank or not.</summary>
    public bool NextRow()
    {
        while (!_ended && part.Read())
        {
            // Nothing after the rows is looked at.
            if (part.IsEnd && part.Name == "sheetData") _ended = true;
            if (!part.IsStart || part.Name != "row") continue;
            var number = part.Attribute("r");
            var line = number is null ? Line + 1 : int.Parse(number, NumberStyles.None, CultureInfo.InvariantCulture);
            if (line <= Line || line > MaxSheetRows) throw new InvalidDataException();
            Line = line;
            return true;
        }

        return false;
    }

    /// <summary>The cells of the current row that are there, from left to right; read once.</summary>
    public IEnumerable<(int Column, string Text, string? Problem)> Cells()
    {
        if (part.IsEmpty) yield break;
        var (depth, next, characters) = (part.Depth, 0, 0);
        while (part.NextIn(depth))
        {
            if (part.Name != "c")
            {
                part.Skip();
                continue;
            }

            var column = part.Attribute("r") is { } reference ? ColumnOf(reference) : next;
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
        var (type, style) = (part.Attribute("t"), part.Attribute("s"));
        _value.Clear();
        if (!part.IsEmpty)
        {
            var depth = part.Depth;
            var fits = true;
            while (fits && part.NextIn(depth))
            {
                if (part.Name == "v" && type != "inlineStr") fits = part.AddText(_value, RowBatch.MaxValue);
                else if (part.Name == "is" && type == "inlineStr") fits = part.AddRuns(_value, RowBatch.MaxValue);
                else part.Skip();
            }

            if (!fits) throw new UnreadableFileException(
                0, null, $"row {Line} of the sheet has a value longer than {RowBatch.MaxValue} characters");
        }

        return texts.Of(type, style, _value.ToString(), out problem);
    }

    /// <summary>The column, counted from 0, of a reference such as <c>AB12</c>.</summary>
    private static int ColumnOf(string reference)
    {
        var column = 0;
        foreach (var c in reference.TakeWhile(char.IsAsciiLetter).Take(4)) column = (column * 26) + (char.ToUpperInvariant(c) - 'A' + 1);
        return column - 1;
    }
}
