using System.Globalization;
using Registry.Rules.Disclosure;
using Registry.Rules.Measures;

namespace Registry.Reporting.Measures;

/// <summary>What a report says beside its figures.</summary>
public static class MeasureWords
{
    /// <summary>Whether the report may leave the registry.</summary>
    public static string Note(HiddenCounts? hidden) => hidden is null
        ? "Internal: small counts are shown. Not for release."
        : $"For release: counts of 1 to {hidden.Threshold - 1}, and others from which they could be computed, are hidden.";

    /// <summary>How every curve is estimated, from what source, and how sure that is.</summary>
    public const string Method =
        "Followed from the day the step can be taken (delayed entry) to the last day that is completely reported. If nobody left: "
        + "Kaplan-Meier, JASA 1958;53:457 (found). As it happens: Aalen-Johansen, Scand J Stat 1978;5:141 (found), with the "
        + "Greenwood-type variance, JASA 1993;88:400 (from memory). Limits on the log-log scale. No estimate where fewer are at risk than "
        + "the policy asks (ours).";

    /// <summary>For which question figures are released.</summary>
    public static string Released(int year, DateOnly day) => string.Create(CultureInfo.InvariantCulture,
        $"Figures for release are of one whole calendar year of births, as of one day, as known then: births of {year:0000} as of "
        + $"{MeasureRequest.Iso(day)} (from={year:0000}-01-01&to={year:0000}-12-31&asOf={MeasureRequest.Iso(day)}), "
        + $"once that day is over.");

    public static string Of(Target target) => target.Direction switch
    {
        Direction.AtLeast => $"at least {target.Value * 100:0.#} %",
        Direction.Above => $"above {target.Value * 100:0.#} %",
        _ => $"below {target.Value * 100:0.#} %",
    };

    /// <summary>"97.3 %", "1.7 per 1,000", "no data" or "hidden".</summary>
    public static string Share(RatioFigure r) => r.Hidden ? "hidden"
        : r.Value is not { } value ? "no data"
        : value.ToString("0.0", CultureInfo.InvariantCulture) + (r.Per == 100 ? " %" : " per 1,000");

    public static string Limits(RatioFigure r) =>
        r.Lower is { } lower && r.Upper is { } upper ? string.Create(CultureInfo.InvariantCulture, $"{lower:0.0}–{upper:0.0}") : "";
}
