using Registry.Intake.Rows;
using Registry.Records;

namespace Registry.Intake.Formats;

/// <summary>Where a field stands in a line, in characters counted from 1, and what its letters mean.</summary>
public sealed record FixedPlace(Field Field, int From, int To, string? Letters = null, string[]? Codes = null);

/// <summary>
/// The fixed-width file of a vital-records office, a layout of our own (docs/intake/vital-records.md): a line H, a line B for
/// each birth and D for each death, and a line T with their number.
/// </summary>
public sealed class ReadFixedWidthRows : RowReader
{
    public static readonly IReadOnlyList<FixedPlace> Layout =
    [
        new(Field.RecordNumber, 2, 21),
        new(Field.BirthSite, 22, 51),
        new(Field.BirthDate, 52, 61),
        new(Field.BirthTime, 62, 66),
        new(Field.Sex, 67, 67, "FMU", ["female", "male", "unknown"]),
        new(Field.Plurality, 68, 68),
        new(Field.BirthOrder, 69, 69),
        new(Field.GestationWeeks, 70, 71),
        new(Field.BirthWeightG, 72, 75),
        new(Field.BirthPlace, 76, 76, "HCMO", ["hospital", "birth_center", "home", "out_of_region"]),
        new(Field.InfantGivenName, 77, 116),
        new(Field.InfantFamilyName, 117, 156),
        new(Field.MotherGivenName, 157, 196),
        new(Field.MotherFamilyName, 197, 236),
        new(Field.MotherBirthDate, 237, 246),
        new(Field.County, 247, 276),
        new(Field.CardId, 277, 296),
        new(Field.DiedOn, 297, 306),
    ];

    private readonly StreamReader _lines;
    private int _line, _number;

    public ReadFixedWidthRows(Stream text, HowToRead read) => _lines = new(text, DetectEncoding.Of(read.Encoding ?? TextEncoding.Utf8));

    public override async ValueTask<bool> FillAsync(RowBatch batch, CancellationToken ct)
    {
        batch.Clear();
        while (!batch.IsFull && await _lines.ReadLineAsync(ct) is { } line)
        {
            _line++;
            if (line.Length > 0 && line[0] is 'B' or 'D') Add(batch, line);
        }

        return batch.Count > 0;
    }

    private void Add(RowBatch batch, string line)
    {
        batch.Add(++_number, _line);
        batch.Set(Field.Kind, line[0] == 'B' ? "birth" : "death");
        if (line.AsSpan().TrimEnd().Length > Layout[^1].To)
            batch.AddProblem(new((string?)null, $"is longer than {Layout[^1].To} characters"));
        foreach (var place in Layout)
        {
            if (line.Length < place.From) break;
            var text = line.AsSpan(place.From - 1, Math.Min(line.Length, place.To) - place.From + 1).Trim();
            var letter = place.Letters is { } letters && text.Length == 1
                ? letters.IndexOf(char.ToUpperInvariant(text[0]), StringComparison.Ordinal) : -1;
            batch.Set(place.Field, letter >= 0 ? place.Codes![letter] : text);
        }
    }

    public override void Dispose() => _lines.Dispose();
}

/// <summary>Is the file whole: a line H of our layout, lines B and D, a line T that counts them.</summary>
public sealed class InspectFixedWidth : InspectSubmission
{
    private const string LayoutName = "VITAL01";

    private readonly List<byte> _line = [];
    private int _lines;
    private bool _ended, _afterCarriageReturn;

    public override void Feed(ReadOnlySpan<byte> bytes)
    {
        while (!bytes.IsEmpty && !IsHopeless)
        {
            if (_afterCarriageReturn && bytes[0] == '\n') bytes = bytes[1..];
            _afterCarriageReturn = false;
            var end = bytes.IndexOfAny((byte)'\n', (byte)'\r');
            var part = end < 0 ? bytes : bytes[..end];
            if (_line.Count + part.Length > InspectCsv.MaxRowBytes)
            {
                Add(RowCount + 1, null, $"line {_lines + 1} is longer than {InspectCsv.MaxRowBytes} bytes");
                return;
            }

            _line.AddRange(part);
            if (end < 0) return;
            EndLine();
            _afterCarriageReturn = bytes[end] == '\r';
            bytes = bytes[(end + 1)..];
        }
    }

    public override void End()
    {
        if (_line.Count > 0) EndLine();
        if (_lines == 0) Add(0, null, "the file is empty: a line H is needed");
        else if (!_ended && Problems.Count == 0) Add(0, null, "the file breaks off: its last line T is not there");
        else if (RowCount == 0 && Problems.Count == 0) Add(0, null, "the file has no line B or D");
    }

    private void EndLine()
    {
        var line = System.Text.Encoding.Latin1.GetString([.. _line]);
        _line.Clear();
        _lines++;
        if (_lines == 1)
        {
            if (!line.StartsWith($"H{LayoutName}", StringComparison.Ordinal)) Add(0, null, $"line 1 does not start with H{LayoutName}");
        }
        else if (line.Length == 0) return;
        else if (_ended) Add(0, null, $"line {_lines} follows the line T");
        else if (line[0] == 'T')
        {
            _ended = true;
            if (!int.TryParse(line.AsSpan(1).Trim(), out var rows))
                Add(0, null, $"line {_lines} does not say how many lines B and D there are");
            else if (rows != RowCount) Add(0, null, $"line {_lines} says {rows} lines B and D, the file has {RowCount}");
        }
        else if (line[0] is 'B' or 'D') RowCount++;
        else Add(RowCount + 1, null, $"line {_lines} starts with none of B, D and T");
    }
}
