namespace Registry.Rules.Measures;

/// <summary>Where a definition comes from.</summary>
public sealed record Source(string Text, SourceMark Mark);

/// <summary>
/// A counted line. <paramref name="Count"/> says how much one infant adds (0 or 1; lines that count ears: up to 2), so that a
/// figure is a sum over infants and the infants behind it are those that add something.
/// </summary>
/// <param name="Code">Stable, dotted: names the line in JSON, CSV, links and stored reports.</param>
/// <param name="Name">What the line says to a reader.</param>
/// <param name="Count">Pure; called once per infant.</param>
public sealed record Line(string Code, string Name, Func<MeasuredInfant, int> Count)
{
    public static Line Of(string code, string name, Func<MeasuredInfant, bool> holds) => new(code, name, i => holds(i) ? 1 : 0);
}

/// <summary>Which way a target points.</summary>
public enum Direction { AtLeast, Above, Below }

/// <summary>A published target, as a proportion.</summary>
public sealed record Target(Direction Direction, decimal Value, Source Source)
{
    /// <summary>Whether a proportion meets it; null when there is no data.</summary>
    public bool? IsMetBy(int numerator, int denominator) => denominator == 0 ? null : Direction switch
    {
        Direction.AtLeast => numerator >= Value * denominator,
        Direction.Above => numerator > Value * denominator,
        _ => numerator < Value * denominator,
    };
}

/// <summary>Which part of the report a proportion belongs to.</summary>
public enum MeasureGroup { NationalSurvey, QualityMeasure, Benchmark, Timeliness }

/// <summary>A proportion of two lines. Excluded infants are in neither; each exclusion is a line of its own.</summary>
/// <param name="Code">Stable name, also of its page in docs/measures (see <see cref="Page"/>).</param>
/// <param name="Numerator">Code of a line every infant of which is in the denominator too, unless <see cref="OfOthers"/>.</param>
public sealed record Ratio(string Code, string Name, MeasureGroup Group, string Numerator, string Denominator, Source Source)
{
    /// <summary>100 for a percentage, 1000 for a prevalence.</summary>
    public int Per { get; init; } = 100;

    /// <summary>Codes of the lines that count who was left out, one reason each.</summary>
    public IReadOnlyList<string> Exclusions { get; init; } = [];
    public Target? Target { get; init; }

    /// <summary>The page of docs/measures that defines it.</summary>
    public required string Page { get; init; }

    /// <summary>True when the denominator is not a count of this registry's infants (vital-records births): no interval is given.</summary>
    public bool OfOthers { get; init; }
}

/// <summary>Lines that must add up: <paramref name="Parts"/> to <paramref name="Total"/>.</summary>
public sealed record Sum(string Name, string Total, IReadOnlyList<string> Parts);

/// <summary>Lines, proportions and sums that belong together.</summary>
public sealed record MeasureSet(IReadOnlyList<Line> Lines, IReadOnlyList<Ratio> Ratios, IReadOnlyList<Sum> Sums)
{
    /// <summary>Raised whenever a definition changes, so that an old report can say why a figure differs.</summary>
    public const string Version = "2026-2";

    /// <summary>Vital-records births: given by the reader, not counted here.</summary>
    public const string VitalBirths = "births.vital";

    private static readonly MeasureSet[] Parts =
        [NationalSurvey.Screening, NationalSurvey.Diagnosis, NationalSurvey.Intervention, QualityMeasures.All, Benchmarks.All];

    /// <summary>The part that depends on no policy.</summary>
    private static MeasureSet Fixed { get; } = Join(Parts);

    /// <summary>Everything the registry reports under a policy (the policy sets the deadlines of the timeliness measures).</summary>
    public static MeasureSet Under(Policy policy) => Join([Fixed, Timeliness.Under(policy)]);

    private static MeasureSet Join(IReadOnlyList<MeasureSet> sets) => new(
        [.. sets.SelectMany(s => s.Lines)], [.. sets.SelectMany(s => s.Ratios)], [.. sets.SelectMany(s => s.Sums)]);
}
