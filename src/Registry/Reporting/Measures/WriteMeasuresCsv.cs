using Registry.Platform.Csv;

namespace Registry.Reporting.Measures;

/// <summary>A report as CSV (<see cref="WriteCsv"/>, lines ended by CRLF), one figure a row, its definition repeated on each so that no row
/// loses it. A curve's numerator is its number at risk.</summary>
public static class WriteMeasuresCsv
{
    private static readonly string[] Header =
    [
        "group", "kind", "code", "name", "numerator", "denominator", "per", "value", "lower_95", "upper_95", "target", "hidden",
        "births_from", "births_to", "as_of", "known_at", "breakdown", "policy_version", "measure_set", "program_version", "released",
    ];

    public static string Of(MeasureReport report)
    {
        var d = report.Definition;
        object?[] definition =
        [
            d.From, d.To, d.AsOf, new PlainCell($"{d.KnownAt.ToUniversalTime():O}"), d.Breakdown, d.PolicyVersion, d.MeasureSetVersion,
            d.ProgramVersion, d.Released ? "for release" : "internal",
        ];
        return WriteCsv.Text(Figures(report).Select(figure => (object?[])[.. figure, .. definition]).Prepend(Header));
    }

    private static IEnumerable<object?[]> Figures(MeasureReport report) =>
        report.Groups.SelectMany(FiguresOf).Concat(report.Curves.SelectMany(FiguresOf));

    private static IEnumerable<object?[]> FiguresOf(GroupFigures group)
    {
        foreach (var l in group.Lines)
            yield return [group.Group, "count", l.Code, l.Name, l.Count, null, null, l.Count, null, null, null, Flag(l.Hidden)];
        foreach (var r in group.Ratios)
            yield return
            [
                group.Group, "proportion", r.Code, r.Name, r.Numerator, r.Denominator, r.Per, r.Value, r.Lower, r.Upper, r.Target,
                Flag(r.Hidden),
            ];
        foreach (var s in group.Sums)
            yield return
            [
                group.Group, "sum", s.Total, s.Name, s.PartsCount, s.TotalCount, null, s.Holds ? "holds" : "does not hold", null, null,
                null, Flag(false),
            ];
    }

    private static IEnumerable<object?[]> FiguresOf(CurveFigure curve)
    {
        foreach (var at in curve.ReadAt)
        {
            var code = $"{curve.Code}.{at.Months}_months";
            yield return
            [
                "all", "kaplan_meier", code, curve.Name, at.AtRisk, curve.Infants, 100, at.Done, at.Lower, at.Upper, null, null,
            ];
            yield return
            [
                "all", "aalen_johansen", code, curve.Name, at.AtRisk, curve.Infants, 100, at.DoneCompeting, at.LowerCompeting,
                at.UpperCompeting, null, null,
            ];
        }
    }

    private static string Flag(bool hidden) => hidden ? "hidden" : "";
}
