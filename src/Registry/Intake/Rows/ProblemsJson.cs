using System.Text.Json;
using System.Text.Json.Serialization;
using Registry.Rules.Facts;

namespace Registry.Intake.Rows;

/// <summary>
/// Problems as they are stored: <c>[{"field":…,"reason":…}]</c>. Those the reader of the file found are marked <c>"reader":true</c>: the
/// row's fields as kept do not show them, so they are put back whenever the row is checked again.
/// </summary>
internal static class ProblemsJson
{
    private sealed record Stored(
        string? Field, string Reason, [property: JsonIgnore(Condition = JsonIgnoreCondition.WhenWritingDefault)] bool Reader);

    /// <param name="problems">All of them.</param>
    /// <param name="byReader">Which of them the reader found; others than these are ignored.</param>
    public static string Write(IReadOnlyList<Problem> problems, IReadOnlyList<Problem> byReader) =>
        JsonSerializer.Serialize(problems.Select(p => new Stored(p.Field, p.Reason, byReader.Contains(p))), JsonSerializerOptions.Web);

    /// <summary>All of them, in the order they are stored.</summary>
    public static IReadOnlyList<Problem> Read(string? json) =>
        json is null ? [] : JsonSerializer.Deserialize<List<Problem>>(json, JsonSerializerOptions.Web)!;

    /// <summary>Which of the problems the reader found are still there when the row states other fields: those whose column was not set
    /// anew, and those of no column.</summary>
    public static IEnumerable<(int Index, Problem Problem)> Unanswered(
        IReadOnlyList<Problem> found, IReadOnlyDictionary<Field, string> before, IReadOnlyDictionary<Field, string> after) =>
        found.Index().Where(f => !Codes.TryParse<Field>(f.Item.Field, out var column)
            || string.Equals(before.GetValueOrDefault(column, ""), after.GetValueOrDefault(column, "").Trim(), StringComparison.Ordinal));

    /// <summary>Those the reader found, in the order they are stored.</summary>
    public static IReadOnlyList<Problem> FoundByReader(string? json) => json is null ? []
        : [.. JsonSerializer.Deserialize<List<Stored>>(json, JsonSerializerOptions.Web)!.Where(p => p.Reader)
            .Select(p => new Problem(p.Field, p.Reason))];
}
