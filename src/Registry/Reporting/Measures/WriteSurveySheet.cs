using Registry.Platform.Csv;
using Registry.Rules.Measures;

namespace Registry.Reporting.Measures;

/// <summary>
/// The national survey as one sheet, to be copied line by line: its parts in the survey's order, the counts of each part and then its
/// shares, a column for everyone and one for each group of the breakdown (by sex or by the mother's age: the demographic tables).
/// </summary>
public static class WriteSurveySheet
{
    private static readonly (string Part, MeasureSet Set)[] Parts =
    [
        ("Screening", NationalSurvey.Screening), ("Diagnosis", NationalSurvey.Diagnosis), ("Intervention", NationalSurvey.Intervention),
    ];

    public static string Of(MeasureReport report)
    {
        var d = report.Definition;
        return WriteCsv.Text(
        [
            ["part", "code", "line", .. report.Groups.Select(g => g.Group)],
            .. Parts.SelectMany(p => Rows(report, p.Part, p.Set)),
            Defined("births_from", "First birth date", d.From), Defined("births_to", "Last birth date", d.To),
            Defined("as_of", "As of", d.AsOf), Defined("known_at", "Known at", new PlainCell($"{d.KnownAt.ToUniversalTime():O}")),
            Defined("policy_version", "Policy", d.PolicyVersion), Defined("measure_set", "Definitions", d.MeasureSetVersion),
            Defined("released", "May leave the registry", d.Released ? "yes" : "no"),
        ]);

        object?[] Defined(string code, string name, object value) =>
            ["Definition", code, name, value, .. Enumerable.Repeat<object?>(null, report.Groups.Count - 1)];
    }

    private static IEnumerable<object?[]> Rows(MeasureReport report, string part, MeasureSet set)
    {
        foreach (var line in set.Lines)
        {
            var cells = report.Groups.Select(g => g.Lines.FirstOrDefault(l => l.Code == line.Code)).ToList();
            if (cells[0] is null) continue;
            yield return [part, line.Code, line.Name, .. cells.Select(c => c is null ? null : c.Hidden ? "hidden" : (object?)c.Count)];
        }

        foreach (var ratio in set.Ratios)
        {
            var cells = report.Groups.Select(g => g.Ratios.FirstOrDefault(r => r.Code == ratio.Code)).ToList();
            if (cells[0] is null) continue;
            yield return
            [
                part, ratio.Code, $"{ratio.Name} ({(ratio.Per == 100 ? "%" : "per 1,000")})",
                .. cells.Select(c => c is null ? null : c.Hidden ? "hidden" : (object?)c.Value),
            ];
        }
    }
}
