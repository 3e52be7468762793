using Microsoft.EntityFrameworkCore;
using Registry.Infants.Counting;
using Registry.Records;
using Registry.Rules.Quality;

namespace Registry.SiteQuality;

/// <summary>Reads what the last night compared (<see cref="KeepComparisons"/>). Of today only: what a past night said is not
/// kept.</summary>
public sealed class ReadComparisons(IServiceScopeFactory scopes)
{
    /// <summary>First tests that refer, of every unit of a kind.</summary>
    public Task<IReadOnlyList<ComparedUnit>> OfKindAsync(ScreenGrouping grouping, ScreensAsked asked, CancellationToken ct) =>
        Kind(grouping) is { } kind
            ? ReadAsync(asked, q => q.Where(u => u.Kind == kind && u.Measure == SessionMeasure.Referred), ct)
            : Task.FromResult<IReadOnlyList<ComparedUnit>>([]);

    /// <summary>Every unit of a site, by measure and kind.</summary>
    public Task<IReadOnlyList<ComparedUnit>> OfSiteAsync(SiteId site, ScreensAsked asked, CancellationToken ct) =>
        ReadAsync(asked, q => q.Where(u => u.SiteId == site), ct);

    /// <summary>Each line with its own.</summary>
    public static IEnumerable<UnitLine> Beside(
        IEnumerable<UnitLine> lines, ScreenGrouping grouping, IEnumerable<ComparedUnit> compared)
    {
        if (Kind(grouping) is not { } kind) return lines;
        var units = compared.Where(u => u.Kind == kind && u.Measure == SessionMeasure.Referred)
            .ToDictionary(u => (u.SiteId, kind == QualityUnitKind.Site ? "" : u.Name));
        return lines.Select(l => l with { Compared = units.GetValueOrDefault((l.Site.Id, l.Counts.Unit)) });
    }

    private static QualityUnitKind? Kind(ScreenGrouping grouping) => grouping switch
    {
        ScreenGrouping.Site => QualityUnitKind.Site,
        ScreenGrouping.Instrument => QualityUnitKind.Instrument,
        ScreenGrouping.Probe => QualityUnitKind.Probe,
        ScreenGrouping.Screener => QualityUnitKind.Screener,
        _ => null,
    };

    /// <summary>By itself, while counts are read.</summary>
    private async Task<IReadOnlyList<ComparedUnit>> ReadAsync(
        ScreensAsked asked, Func<IQueryable<ComparedUnit>, IQueryable<ComparedUnit>> which, CancellationToken ct)
    {
        if (asked.AsOf is not null) return [];
        await using var scope = scopes.CreateAsyncScope();
        return await which(scope.ServiceProvider.GetRequiredService<RegistryDb>().ComparedUnits.AsNoTracking()).ToListAsync(ct);
    }
}
