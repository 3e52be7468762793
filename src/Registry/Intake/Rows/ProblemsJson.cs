using System.Text.Json;
using System.Text.Json.Serialization;
using Registry.Rules.Facts;

namespace Registry.Intake.Rows;

/// <summary>
/// Problems as they are kept with a row: <c>[{"field":…,"reason":…}]</c>. Those the reader of the file found are marked
/// <c>"reader":true</c>: the row's fields as kept do not show them, so they are put back whenever the row is checked again.
/// </summary>
internal static class ProblemsJson
{
    private sealed record Stored(
        string? Field, string Reason, [property: JsonIgnore(Condition = JsonIgnoreCondition.WhenWritingDefault)] bool Reader)
    {
        public Problem Problem => new(Field, Reason);
    }

    /// <param name="problems">All that is wrong with the row.</param>
    /// <param name="found">What the reader of the file found in it; what is not among the problems is not written.</param>
    public static string Write(IReadOnlyList<Problem> problems, IReadOnlyList<Problem> found) =>
        JsonSerializer.Serialize(problems.Select(p => new Stored(p.Field, p.Reason, found.Contains(p))), JsonSerializerOptions.Web);

    /// <summary>All that was wrong with the row.</summary>
    public static IReadOnlyList<Problem> Read(string? json) => [.. Parse(json).Select(p => p.Problem)];

    /// <summary>What the reader of the file found, in the order it is stored.</summary>
    public static IReadOnlyList<Problem> FoundByReader(string? json) => [.. Parse(json).Where(p => p.Reader).Select(p => p.Problem)];

    /// <summary>What the reader found and is still so when the row states other fields: where the column was not set anew, and what
    /// belongs to no column.</summary>
    public static IEnumerable<(int Index, Problem Problem)> Unanswered(
        IReadOnlyList<Problem> found, IReadOnlyDictionary<Field, string> before, IReadOnlyDictionary<Field, string> after)
    {
        return found.Index().Where(
            f => !Codes.TryParse<Field>(f.Item.Field, out var column) || Says(before, column) == Says(after, column));

        static string Says(IReadOnlyDictionary<Field, string> row, Field column) => row.GetValueOrDefault(column, "").Trim();
    }

    private static List<Stored> Parse(string? json) =>
        json is null ? [] : JsonSerializer.Deserialize<List<Stored>>(json, JsonSerializerOptions.Web)!;
}
