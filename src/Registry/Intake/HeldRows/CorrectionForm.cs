using Registry.Intake.Rows;
using Registry.Rules.Facts;

namespace Registry.Intake.HeldRows;

/// <summary>A correction of one row as its form posts it.</summary>
/// <param name="values">The columns as a person states them, by code.</param>
public sealed class CorrectionForm(IReadOnlyDictionary<string, string?> values)
{
    private const int LongestValue = 4_000;

    /// <summary>The row with what the form changes in it.</summary>
    public IReadOnlyDictionary<Field, string> Merge(IReadOnlyDictionary<Field, string> row)
    {
        var merged = new Dictionary<Field, string>(row);
        foreach (var (field, value) in Changed(row)) merged[field] = value;
        return merged;
    }

    /// <summary>Which of the changes are too long to be kept.</summary>
    public IReadOnlyList<Problem> TooLong(IReadOnlyDictionary<Field, string> row) =>
        [.. Changed(row).Where(v => v.Value.Length > LongestValue)
            .Select(v => new Problem(v.Key, $"is longer than {LongestValue} characters"))];

    /// <summary>The columns in which the form says something else than the row. A browser writes line breaks its own way: that is no
    /// change.</summary>
    private Dictionary<Field, string> Changed(IReadOnlyDictionary<Field, string> row)
    {
        var changed = new Dictionary<Field, string>();
        foreach (var (name, value) in values)
        {
            if (!Codes.TryParse<Field>(name, out var field) || field == Field.Problems) continue;
            if (Lines(value) is var text && text != Lines(row.GetValueOrDefault(field))) changed[field] = text;
        }

        return changed;
    }

    private static string Lines(string? value) => (value ?? "").ReplaceLineEndings("\n").Trim();
}
