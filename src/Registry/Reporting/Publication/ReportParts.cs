using Registry.Reporting.Measures;

namespace Registry.Reporting.Publication;

/// <summary>One step of the national survey on the page. Model of <c>_SurveyStep</c>.</summary>
public sealed record SurveyStep(ReportsModel Page, string Title, string[] LinePrefixes, string[] RatioPrefixes);

/// <summary>A table of proportions. Model of <c>_Proportions</c>.</summary>
public sealed record Proportions(ReportsModel Page, string Title, IEnumerable<RatioFigure> Ratios);

/// <summary>A count, hidden or a link to the infants behind it. Model of <c>_Count</c>.</summary>
public sealed record ShownCount(int? Count, string? Href);
