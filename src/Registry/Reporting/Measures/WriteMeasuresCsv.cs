using System.Globalization;
using Registry.Ui;

namespace Registry.Reporting.Measures;

/// <summary>A report as CSV (RFC 4180), one figure a row, its definition repeated on each so that no row loses it.</summary>
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
            d.From, d.To, d.AsOf, d.KnownAt.ToUniversalTime().ToString("O", CultureInfo.InvariantCulture), d.Breakdown, d.PolicyVersion,
            d.MeasureSetVersion, d.ProgramVersion, d.Released ? "for release" : "internal",
        ];
        var rows = report.Groups.SelectMany(Figures).Concat(report.Curves.SelectMany(Figures));
        return string.Concat(rows.Select(row => CsvResult.Line([.. row, .. definition])).Prepend(CsvResult.Line(Header)));
    }

    private static IEnumerable<object?[]> Figures(GroupFigures group) =>
    [
        .. group.Lines.Select(l => (object?[])
        [
            group.Group, "count", l.Code, l.Name, l.Count, null, null, l.Count, null, null, null, Flag(l.Hidden),
        ]),
        .. group.Ratios.Select(r => (object?[])
        [
            group.Group, "proportion", r.Code, r.Name, r.Numerator, r.Denominator, r.Per, r.Value, r.Lower, r.Upper, r.Target,
            Flag(r.Hidden),
        ]),
        .. group.Sums.Select(s => (object?[])
        [
            group.Group, "sum", s.Total, s.Name, s.PartsCount, s.TotalCount, null, s.Holds ? "holds" : "does not hold", null, null, null,
            Flag(s.TotalCount is null),
        ]),
    ];

    private static IEnumerable<object?[]> Figures(CurveFigure curve)
    {
        foreach (var at in curve.ReadAt)
        {
            var code = $"{curve.Code}.{at.Months}_months";
            yield return
            [
                "all", "kaplan_meier", code, curve.Name, null, curve.Infants, 100, at.Done, at.Lower, at.Upper, null, Flag(at.Hidden),
            ];
            yield return
            [
                "all", "aalen_johansen", code, curve.Name, null, curve.Infants, 100, at.DoneCompeting, null, null, null, Flag(at.Hidden),
            ];
        }
    }

    private static string Flag(bool hidden) => hidden ? "hidden" : "";
}
