using System.Text.Json;
using Registry.Rules.Facts;

namespace Registry.Intake.Rows;

/// <summary>The stated fields of a row as they are kept: a JSON object by column.</summary>
public static class RowContent
{
    /// <summary>The stated fields of a row's JSON.</summary>
    public static IReadOnlyDictionary<Field, string> Fields(string json) =>
        JsonSerializer.Deserialize<Dictionary<string, string>>(json)!.ToDictionary(p => Codes.Parse<Field>(p.Key), p => p.Value);
}
