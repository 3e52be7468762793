using System.Globalization;
using Registry.Rules.Quality;
using Registry.Ui;

namespace Registry.SiteQuality;

/// <summary>What the comparison of the last night says.</summary>
public static partial class SiteWords
{
    public const string ComparedColumn = "Compared with expected";

    /// <summary>"1.42 ×".</summary>
    public static string Ratio(ComparedUnit unit) => unit.Ratio is { } ratio ? $"{Times(ratio)} ×" : "—";

    /// <summary>"21.8 expected".</summary>
    public static string ExpectedOf(ComparedUnit unit) => $"{Tenth(unit.Expected)} expected";

    /// <summary>"31, expected 21.8; likely 1.05 to 1.60 ×".</summary>
    public static string Beneath(ComparedUnit unit) => $"{Words.Count(unit.Observed)}, expected {Tenth(unit.Expected)}"
        + (unit.Likely is { } likely ? $"; likely {Times(likely.Lower)} to {Times(likely.Upper)} ×" : "");

    /// <summary>Empty where chance and ordinary differences explain it.</summary>
    public static string Beyond(ComparedUnit unit) => unit.Beyond switch
    {
        > 0 => "more than chance",
        < 0 => "fewer than chance",
        _ => "",
    };

    /// <summary>Which days, whose and how many, by what: beneath the table and the drawing.</summary>
    public static string ComparedOn(ComparedUnit unit, string several) =>
        $"Compared in the night of {Words.Date(unit.AsOf)}: first sessions from {Words.Date(unit.FirstDay)} to {Words.Date(unit.AsOf)}, "
            + $"whatever days are chosen above; {Words.Count(unit.AllTrials, "infant")} at {Words.Count(unit.Units)} "
            + $"{several.ToLowerInvariant()}; policy {unit.PolicyVersion}; case mix {unit.ModelVersion}, fitted to "
            + $"{Words.Date(unit.ModelFrom)} to {Words.Date(unit.ModelThrough)}.";

    public const string ComparedExplained =
        "Expected: so many refers such infants (method, age, intensive care, gestation) have at the others, never in a pool that holds "
        + "the unit itself. Likely: the range of its true rate, in multiples of the expected one, with 95 %; one of few infants is drawn "
        + "towards the expected rate; none is stated where units do not differ measurably. More, or fewer, than chance: of all that was "
        + "compared that night no more than 5 % marked so are expected to be chance, and ordinary differences between units do not explain "
        + "it either. It is a picture of a year and raises no flag: flags come from the nightly watch.";

    /// <summary>What the drawing shows, by volume.</summary>
    public static string Funnel(ComparedUnit unit) => string.Create(CultureInfo.InvariantCulture,
        $"First tests that referred, standardized (the region's rate times observed / expected), by how many were expected; dashed the "
            + $"limits of 95 % and 99.8 % around the region's rate, widened by what units ordinarily differ (φ {unit.Phi:0.00}, "
            + $"τ {Math.Sqrt(unit.TauSquared):0.00} of the log odds); ▲ is flagged");

    public const string FunnelAsCounted =
        "First tests that referred, of infants with a valid result, by their number, as counted and not adjusted for case mix; dashed the "
        + "exact limits around the region's rate (95 %, 99.8 %); ▲ is flagged";

    /// <summary>"Lind: 31 refers, expected 21.8, standardized 6.1 %".</summary>
    public static string Point(string name, ComparedUnit unit) => string.Create(CultureInfo.InvariantCulture,
        $"{name}: {Words.Count(unit.Observed, "refer")} of {Words.Count(unit.Trials, "infant")}, expected {unit.Expected:0.0}, "
            + $"standardized {100 * unit.Standardized:0.0} %");

    /// <summary>"Probe P9".</summary>
    public static string Named(ComparedUnit unit) =>
        unit.Kind == QualityUnitKind.Site ? "The whole site" : $"{Words.Of((Enum)unit.Kind)} {unit.Name}";

    /// <summary>"First tests that refer".</summary>
    public static string Measured(SessionMeasure measure) =>
        Of(measure) is var words ? char.ToUpperInvariant(words[0]) + words[1..] : "";

    /// <summary>Rates that are likely; "—" where units do not differ measurably.</summary>
    public static string LikelyRate(ComparedUnit unit) => (unit.ShrunkenLeast, unit.ShrunkenMost) is ({ } least, { } most)
        ? string.Create(CultureInfo.InvariantCulture, $"{100 * unit.Shrunken:0.0} % ({100 * least:0.0} to {100 * most:0.0})") : "—";

    public static string Places(ComparedUnit unit) => unit is { RankFirst: { } first, RankLast: { } last }
        ? first == last ? $"{first} of {unit.Units}" : $"{first} to {last} of {unit.Units}" : "—";

    public static string Probability(double? p) => p is { } known
        ? known < .001 ? "< 0.001" : known.ToString("0.000", CultureInfo.InvariantCulture) : "—";

    public static string Times(double? x) => x?.ToString("0.00", CultureInfo.InvariantCulture) ?? "—";

    public static string Tenth(double x) => x.ToString("0.0", CultureInfo.InvariantCulture);

    public const string ComparedFigures =
        "Standardized: the region's rate times observed / expected. Likely rate: what is believed of the true rate, and its limits of "
        + "95 %. Far above: the probability that it is more than 1.5 times the expected one. Mid-P: the probability of so many or more by "
        + "chance; adjusted: of so many or so few, over everything compared that night (Benjamini and Hochberg). z: the distance from what "
        + "is expected in standard errors, chance widened by √φ, and with ordinary differences added. Places: 1 is the highest rate, with "
        + "90 %. "
        + "A refer is not a diagnosis; a unit that differs is a reason to look, not a fault.";
}
