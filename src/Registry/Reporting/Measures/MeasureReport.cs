using System.Reflection;
using Registry.Rules.Facts;
using Registry.Rules.Measures;

namespace Registry.Reporting.Measures;

/// <summary>What was computed, in words a reader can cite.</summary>
/// <param name="Released">Small counts are hidden: may leave the registry.</param>
public sealed record ReportDefinition(
    DateOnly From, DateOnly To, DateOnly AsOf, DateTimeOffset KnownAt, string Breakdown, int? VitalBirths,
    string PolicyVersion, string MeasureSetVersion, string ProgramVersion, bool Released, string Note);

/// <summary>A counted line; no count when it is hidden.</summary>
public sealed record LineFigure(string Code, string Name, int? Count, bool Hidden);

/// <summary>A proportion. Value and limits are null when there is no data, or when it is hidden.</summary>
public sealed record RatioFigure
{
    public required string Code { get; init; }
    public required string Name { get; init; }
    public required string Group { get; init; }
    public required string Page { get; init; }

    // The lines that count it, and their counts.
    public required string NumeratorLine { get; init; }
    public required string DenominatorLine { get; init; }
    public required int? Numerator { get; init; }
    public required int? Denominator { get; init; }

    /// <summary>100 for a percentage, 1000 for a prevalence; value and limits are on this scale, one decimal.</summary>
    public required int Per { get; init; }
    public required decimal? Value { get; init; }

    /// <summary>Lower end of the 95 % Wilson interval.</summary>
    public required decimal? Lower { get; init; }
    public required decimal? Upper { get; init; }
    public required IReadOnlyList<LineFigure> Exclusions { get; init; }
    public required string? Target { get; init; }

    /// <summary>Whether the target is met.</summary>
    public required bool? Meets { get; init; }
    public required string Source { get; init; }
    public required string SourceMark { get; init; }
    public required bool Hidden { get; init; }
}

/// <summary>A sum of lines.</summary>
public sealed record SumFigure(string Name, string Total, IReadOnlyList<string> Parts, int TotalCount, int PartsCount, bool Holds);

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
            measured.Policy.Version, MeasureSet.Version, ProgramVersion, hidden is not null, MeasureWords.Note(hidden));
        return new(
            definition,
            [.. table.Groups.Prepend(table.Whole)
                .Select((group, at) => new FigureGroup(table, group, at == 0, request.VitalBirths, hidden).Figures())],
            hidden is null ? CurveFigure.Of(measured) : []);
    }

    internal static decimal? OneDecimal(double? value) =>
        value is { } v ? decimal.Round((decimal)v, 1, MidpointRounding.AwayFromZero) : null;
}
