using System.Globalization;

namespace Registry.Reporting.Measures;

/// <summary>One step of the national survey on the page. Model of <c>_SurveyStep</c>.</summary>
public sealed record SurveyStep(ReportsModel Page, string Title, string[] LinePrefixes, string[] RatioPrefixes);

/// <summary>A table of proportions. Model of <c>_Proportions</c>.</summary>
public sealed record Proportions(ReportsModel Page, string Title, IEnumerable<RatioFigure> Ratios)
{
    /// <summary>"97.3 %", "1.7 per 1,000", "no data" or "hidden".</summary>
    public static string Share(RatioFigure r) => r.Hidden ? "hidden"
        : r.Value is not { } value ? "no data"
        : value.ToString("0.0", CultureInfo.InvariantCulture) + (r.Per == 100 ? " %" : " per 1,000");

    public static string Limits(RatioFigure r) =>
        r.Lower is { } lower && r.Upper is { } upper ? string.Create(CultureInfo.InvariantCulture, $"{lower:0.0}–{upper:0.0}") : "";
}

/// <summary>A count, hidden or a link to the infants behind it. Model of <c>_Count</c>.</summary>
public sealed record ShownCount(int? Count, string? Href);
