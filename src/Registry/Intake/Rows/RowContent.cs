using System.Text.Json;
using Registry.Rules.Facts;

namespace Registry.Intake.Rows;

/// <summary>The stated fields of a held or rejected row as they are kept: a JSON object by column (<see cref="RowBatch.ToJson"/> writes
/// it).</summary>
public static class RowContent
{
    public static IReadOnlyDictionary<Field, string> Fields(string json) =>
        JsonSerializer.Deserialize<Dictionary<string, string>>(json)!.ToDictionary(f => Codes.Parse<Field>(f.Key), f => f.Value);
}
