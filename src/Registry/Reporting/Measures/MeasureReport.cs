using System.Reflection;
using Registry.Rules.Disclosure;
using Registry.Rules.Facts;
using Registry.Rules.Measures;
using Registry.Rules.Statistics;

namespace Registry.Reporting.Measures;

/// <summary>What was computed, in words a reader can cite.</summary>
/// <param name="Released">Small counts are hidden: may leave the registry.</param>
public sealed record ReportDefinition(
    DateOnly From, DateOnly To, DateOnly AsOf, DateTimeOffset KnownAt, string Breakdown, int? VitalBirths,
    string PolicyVersion, string MeasureSetVersion, string ProgramVersion, bool Released, string Note);

/// <summary>A counted line; no count when it is hidden.</summary>
public sealed record LineFigure(string Code, string Name, int? Count, bool Hidden);

/// <summary>A proportion. Value and limits are null when there is no data, or when it is hidden.</summary>
/// <param name="Per">100 for a percentage, 1000 for a prevalence; value and limits are on this scale, one decimal.</param>
/// <param name="Lower">Lower end of the 95 % Wilson interval.</param>
/// <param name="Meets">Whether the target is met.</param>
public sealed record RatioFigure(
    string Code, string Name, string Group, string Page, string NumeratorLine, string DenominatorLine, int? Numerator, int? Denominator,
    int Per, decimal? Value, decimal? Lower, decimal? Upper, IReadOnlyList<LineFigure> Exclusions, string? Target, bool? Meets,
    string Source, string SourceMark, bool Hidden);

/// <summary>A sum of lines; totals are null when one of the lines is hidden.</summary>
public sealed record SumFigure(string Name, string Total, IReadOnlyList<string> Parts, int? TotalCount, int? PartsCount, bool Holds);

/// <summary>The figures of one group of infants; the first group is the whole.</summary>
public sealed record GroupFigures(
    string Group, IReadOnlyList<LineFigure> Lines, IReadOnlyList<RatioFigure> Ratios, IReadOnlyList<SumFigure> Sums);

/// <summary>Everything <c>GET /api/v1/measures</c> answers.</summary>
public sealed record MeasureReport(ReportDefinition Definition, IReadOnlyList<GroupFigures> Groups, IReadOnlyList<CurveFigure> Curves)
{
    /// <summary>The version of this program, without the source revision.</summary>
    public static string ProgramVersion { get; } =
        typeof(MeasureReport).Assembly.GetCustomAttribute<AssemblyInformationalVersionAttribute>()?.InformationalVersion.Split('+')[0]
            ?? "unknown";

    /// <summary>Shows every count, or hides what <see cref="Measured.Hidden"/> says.</summary>
    public static MeasureReport Of(Measured measured)
    {
        var (request, table, hidden) = (measured.Request, measured.Table, measured.Hidden);
        var definition = new ReportDefinition(
            request.From, request.To, request.AsOf, request.KnownAt, Codes.Of(request.Breakdown), request.VitalBirths,
            measured.Policy.Version, MeasureSet.Version, ProgramVersion, hidden is not null,
            hidden is null
                ? "Internal: small counts are shown. Not for release."
                : $"For release: counts of 1 to {hidden.Threshold - 1}, and others from which they could be computed, are hidden.");
        return new(
            definition,
            [.. table.Groups.Prepend(table.Whole).Select((g, at) => Figures(table, g, at == 0, request.VitalBirths, hidden))],
            CurveFigure.Of(measured, hidden));
    }

    private static GroupFigures Figures(MeasureTable table, GroupCounts group, bool whole, int? vitalBirths, HiddenCounts? hidden)
    {
        bool IsHidden(string line) => hidden?.Contains(whole ? Breakdown.None : table.Breakdown, group.Name, line) ?? false;
        var lines = table.Set.Lines.Select(l => Line(l.Code)).ToList();
        return new(
            group.Name,
            lines,
            [.. table.Set.Ratios.Where(r => !r.OfOthers || (whole && vitalBirths is not null)).Select(Ratio)],
            [.. table.Set.Sums.Select(Sum)]);

        LineFigure Line(string code)
        {
            var at = table.IndexOf(code);
            return new(code, table.Set.Lines[at].Name, IsHidden(code) ? null : group.Counts[at], IsHidden(code));
        }

        RatioFigure Ratio(Ratio r)
        {
            var n = table.Count(group, r.Numerator);
            var d = r.OfOthers ? vitalBirths!.Value : table.Count(group, r.Denominator);
            var hide = IsHidden(r.Numerator) || (!r.OfOthers && IsHidden(r.Denominator));

            // Births unknown to vital records can make the numerator the larger: a percentage above 100, and no interval.
            var proportion = n <= d ? new Proportion(n, d) : default;
            var interval = hide || r.OfOthers ? null : proportion.Wilson();
            return new(
                r.Code, r.Name, Codes.Of(r.Group), r.Page, r.Numerator, r.Denominator,
                IsHidden(r.Numerator) ? null : n, !r.OfOthers && IsHidden(r.Denominator) ? null : d, r.Per,
                hide || d == 0 ? null : decimal.Round((decimal)n * r.Per / d, 1, MidpointRounding.AwayFromZero),
                OneDecimal(interval?.Lower * r.Per), OneDecimal(interval?.Upper * r.Per),
                [.. r.Exclusions.Select(Line)], r.Target is { } t ? Words(t) : null, hide ? null : r.Target?.IsMetBy(n, d),
                r.Source.Text, Codes.Of(r.Source.Mark), hide);
        }

        SumFigure Sum(Sum sum)
        {
            var (total, parts) = (table.Count(group, sum.Total), sum.Parts.Sum(p => table.Count(group, p)));
            var shown = !IsHidden(sum.Total) && !sum.Parts.Any(IsHidden);
            return new(sum.Name, sum.Total, sum.Parts, shown ? total : null, shown ? parts : null, total == parts);
        }
    }

    internal static decimal? OneDecimal(double? value) =>
        value is { } v ? decimal.Round((decimal)v, 1, MidpointRounding.AwayFromZero) : null;

    private static string Words(Target target) => target.Direction switch
    {
        Direction.AtLeast => $"at least {target.Value * 100:0.#} %",
        Direction.Above => $"above {target.Value * 100:0.#} %",
        _ => $"below {target.Value * 100:0.#} %",
    };
}
