using Registry.Rules.Disclosure;
using Registry.Rules.Facts;
using Registry.Rules.Measures;
using Registry.Rules.Statistics;

namespace Registry.Reporting.Measures;

/// <summary>Turns the counts of one group into figures.</summary>
/// <param name="whole">The group is everyone.</param>
/// <param name="vitalBirths">Births in vital records, when they were stated.</param>
/// <param name="hidden">Counts that may not leave the registry; null: all are shown.</param>
internal sealed class FigureGroup(MeasureTable table, GroupCounts group, bool whole, int? vitalBirths, HiddenCounts? hidden)
{
    public GroupFigures Figures() => new(
        group.Name,
        [.. (hidden is null ? table.Set.Lines.Select(l => l.Code) : ReleasedLines.Lines(whole)).Select(Line)],
        [.. table.Set.Ratios.Where(IsPrinted).Select(Ratio)],
        [.. hidden is null ? table.Set.Sums.Select(Sum) : []]);

    /// <summary>A release has the survey's proportions of the lines it prints, so that no count comes under two names.</summary>
    private bool IsPrinted(Ratio r)
    {
        if (r.OfOthers && !(whole && vitalBirths is not null)) return false;
        var lines = ReleasedLines.Lines(whole);
        return hidden is null || (r.Group == MeasureGroup.NationalSurvey
            && lines.Contains(r.Numerator) && (r.OfOthers || lines.Contains(r.Denominator)));
    }

    private bool IsHidden(string line) => hidden?.Contains(whole ? Breakdown.None : table.Breakdown, group.Name, line) ?? false;

    private LineFigure Line(string code)
    {
        var at = table.IndexOf(code);
        return new(code, table.Set.Lines[at].Name, IsHidden(code) ? null : group.Counts[at], IsHidden(code));
    }

    private RatioFigure Ratio(Ratio r)
    {
        var n = table.Count(group, r.Numerator);
        var d = r.OfOthers ? vitalBirths!.Value : table.Count(group, r.Denominator);
        var (hideNumerator, hideDenominator) = (IsHidden(r.Numerator), !r.OfOthers && IsHidden(r.Denominator));
        var hide = hideNumerator || hideDenominator;

        // Births unknown to vital records can make the numerator the larger: a percentage above 100, and no interval.
        var interval = hide || r.OfOthers || n > d ? null : new Proportion(n, d).Wilson();
        return new()
        {
            Code = r.Code,
            Name = r.Name,
            Group = Codes.Of(r.Group),
            Page = r.Page,
            NumeratorLine = r.Numerator,
            DenominatorLine = r.Denominator,
            Numerator = hideNumerator ? null : n,
            Denominator = hideDenominator ? null : d,
            Per = r.Per,
            Value = hide || d == 0 ? null : decimal.Round((decimal)n * r.Per / d, 1, MidpointRounding.AwayFromZero),
            Lower = MeasureReport.OneDecimal(interval?.Lower * r.Per),
            Upper = MeasureReport.OneDecimal(interval?.Upper * r.Per),
            Exclusions = [.. r.Exclusions.Select(Line)],
            Target = r.Target is { } t ? MeasureWords.Of(t) : null,
            Meets = hide ? null : r.Target?.IsMetBy(n, d),
            Source = r.Source.Text,
            SourceMark = Codes.Of(r.Source.Mark),
            Hidden = hide,
        };
    }

    private SumFigure Sum(Sum sum)
    {
        var (total, parts) = (table.Count(group, sum.Total), sum.Parts.Sum(p => table.Count(group, p)));
        return new(sum.Name, sum.Total, sum.Parts, total, parts, total == parts);
    }
}
