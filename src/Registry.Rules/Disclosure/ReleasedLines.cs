namespace Registry.Rules.Disclosure;

/// <summary>Lines no infant is in two of, all of whose infants are in <paramref name="Of"/>.</summary>
public sealed record Split(string Of, params IReadOnlyList<string> Parts);

/// <summary>
/// What a release prints: few lines of the national survey, each within another, headline first, no line twice. Everything a reader
/// can compute from their definitions is said here, and <see cref="HiddenCounts"/> protects it; a line whose definition
/// overlaps another's in any other way would tell single infants by its difference, and must not be added.
/// </summary>
public static class ReleasedLines
{
    /// <summary>Shown whatever else must be hidden, unless it is small itself.</summary>
    public const string Headline = "births";

    private static readonly Split[] Splits =
    [
        new(Headline, "screening.screened", "screening.lost"),
        new("screening.screened", "screening.before_1_month"),
        new("screening.screened", "screening.not_pass"),
        new("screening.not_pass", "diagnosis.documented", "diagnosis.lost"),
        new("diagnosis.documented", "diagnosis.before_3_months"),
        new(Headline, "loss", "screening.lost", "diagnosis.lost"),
        new("loss", "intervention.enrolled", "intervention.lost"),
        new("intervention.enrolled", "intervention.before_6_months"),
    ];

    /// <summary>By group only one line within the other: permanent hearing loss is too rare to be shown by group.</summary>
    private static readonly Split[] SplitsByGroup =
    [
        new(Headline, "screening.screened"),
        new("screening.screened", "screening.not_pass"),
        new("screening.not_pass", "diagnosis.documented", "diagnosis.lost"),
        new("diagnosis.documented", "diagnosis.before_3_months"),
    ];

    /// <summary>Of everyone, headline first.</summary>
    public static IReadOnlyList<string> OfTheWhole { get; } = Lines(Splits);

    /// <summary>Of a group: some of <see cref="OfTheWhole"/>.</summary>
    public static IReadOnlyList<string> ByGroup { get; } = Lines(SplitsByGroup);

    public static IReadOnlyList<string> Lines(bool whole) => whole ? OfTheWhole : ByGroup;

    /// <summary>What it costs a reader when a line that is not small is hidden for the sake of another.</summary>
    internal static int CostOf(string line) => line switch { Headline => 8, "screening.screened" => 3, _ => 1 };

    /// <summary>The lines a line lies within, innermost first.</summary>
    internal static IEnumerable<string> Around(string line) =>
        Splits.FirstOrDefault(s => s.Parts.Contains(line)) is { } split ? Around(split.Of).Prepend(split.Of) : [];

    internal static IReadOnlyList<Split> SplitsOf(bool whole) => whole ? Splits : SplitsByGroup;

    private static List<string> Lines(Split[] splits) => [Headline, .. splits.SelectMany(s => s.Parts).Distinct()];
}
