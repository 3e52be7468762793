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
        new(Field.BirthPlace, 76, 76, "HCMOA",
            ["hospital", "birth_center", "home", "out_of_region", "military_hospital"]),
        new(Field.InfantGivenName, 77, 116),
        new(Field.InfantFamilyName, 117, 156),
        new(Field.MotherGivenName, 157, 196),
        new(Field.MotherFamilyName, 197, 236),
        new(Field.MotherBirthDate, 237, 246),
        new(Field.County, 247, 276),
        new(Field.CardId, 277, 296),
        new(Field.DiedOn, 297, 306),
        new(Field.ResidenceState, 307, 308),
    ];

    private readonly StreamReader _lines;
    private int _line, _number;

    public ReadFixedWidthRows(Stream text, FileReading read) => _lines = new(text, DetectEncoding.Of(read.Encoding ?? TextEncoding.Utf8));

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
