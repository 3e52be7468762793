using System.Globalization;
using System.Text;

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
        string[] definition =
        [
            MeasureRequest.Iso(d.From), MeasureRequest.Iso(d.To), MeasureRequest.Iso(d.AsOf), d.KnownAt.ToUniversalTime()
                .ToString("O", CultureInfo.InvariantCulture),
            d.Breakdown, d.PolicyVersion, d.MeasureSetVersion, d.ProgramVersion, d.Released ? "for release" : "internal",
        ];
        var csv = new StringBuilder();
        Row(Header);
        foreach (var group in report.Groups)
        {
            foreach (var l in group.Lines)
                Figure(group.Group, "count", l.Code, l.Name, Number(l.Count), "", "", Number(l.Count), "", "", "", Flag(l.Hidden));
            foreach (var r in group.Ratios)
                Figure(group.Group, "proportion", r.Code, r.Name, Number(r.Numerator), Number(r.Denominator), Number(r.Per),
                    Number(r.Value), Number(r.Lower), Number(r.Upper), r.Target ?? "", Flag(r.Hidden));
            foreach (var s in group.Sums)
                Figure(group.Group, "sum", s.Total, s.Name, Number(s.PartsCount), Number(s.TotalCount), "",
                    s.Holds ? "holds" : "does not hold", "", "", "", Flag(s.TotalCount is null));
        }

        foreach (var c in report.Curves)
            foreach (var at in c.ReadAt)
            {
                Figure("all", "kaplan_meier", $"{c.Code}.{at.Months}_months", c.Name, "", Number(c.Infants), "100", Number(at.Done),
                    Number(at.Lower), Number(at.Upper), "", Flag(at.Hidden));
                Figure("all", "aalen_johansen", $"{c.Code}.{at.Months}_months", c.Name, "", Number(c.Infants), "100",
                    Number(at.DoneCompeting), "", "", "", Flag(at.Hidden));
            }

        return csv.ToString();

        void Figure(params string[] cells) => Row([.. cells, .. definition]);
        void Row(string[] cells) => csv.AppendJoin(',', cells.Select(Quoted)).Append("\r\n");
    }

    private static string Flag(bool hidden) => hidden ? "hidden" : "";
    private static string Number(IFormattable? value) => value?.ToString(null, CultureInfo.InvariantCulture) ?? "";

    /// <summary>Quoted where RFC 4180 asks; a text a spreadsheet would take for a formula gets an apostrophe.</summary>
    private static string Quoted(string cell)
    {
        if (cell.Length > 0 && "=+-@\t\r".Contains(cell[0]) && !decimal.TryParse(
            cell, NumberStyles.Number, CultureInfo.InvariantCulture, out _)) cell = "'" + cell;
        return cell.AsSpan().IndexOfAny(",\"\r\n") >= 0 ? $"\"{cell.Replace("\"", "\"\"")}\"" : cell;
    }
}
