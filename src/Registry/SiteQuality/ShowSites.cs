using Microsoft.EntityFrameworkCore;
using Registry.Access;
using Registry.Infants.Statuses;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Rules.Quality;
using Registry.Rules.Statistics;

namespace Registry.SiteQuality;

/// <summary>Which sites, in which order.</summary>
/// <param name="County">Null or empty: all.</param>
/// <param name="Sort">A column's name, with a minus in front for the largest first; null: by name.</param>
public sealed record SitesAsked(Period Period, string? County, SiteKind? Kind, string? Sort);

/// <summary>The region's sites as a viewer may see them.</summary>
/// <param name="Lines">Of the sites the viewer sees.</param>
/// <param name="Counties">To choose from.</param>
/// <param name="Delays">From test to receipt, of each line.</param>
/// <param name="Units">Instruments and probes found by the nightly comparison, of sites the viewer sees; as of today only.</param>
public sealed record ShownSites(
    Period Period, StatusesAsOf Statuses, IReadOnlyList<SiteLine> Lines, IReadOnlyList<string> Counties,
    IReadOnlyList<SiteRhythm> Silent, IReadOnlyDictionary<SiteId, DelayFigures> Delays,
    IReadOnlyList<(Site Site, QualityFinding Finding)> Units)
{
    public required Proportion RegionRefer { get; init; }
    public required Proportion RegionInvalid { get; init; }
}

/// <summary>Compares the region's sites for a viewer. Others' rates are not a site's business: it sees its own line and the
/// region.</summary>
public sealed class ShowSites(
    RegistryDb db, CompareSites compare, StatusSource statuses, SilentSites silent, MeasureDelays measure, PolicyStore policies,
    Viewer viewer)
{
    /// <param name="sites">What is asked for.</param>
    /// <param name="asOf">The day.</param>
    /// <param name="isToday">Show what the nightly job found, too.</param>
    /// <param name="ct">Cancels.</param>
    public async Task<ShownSites> AsOfAsync(SitesAsked sites, DateOnly asOf, bool isToday, CancellationToken ct)
    {
        var known = await statuses.AsOfAsync(asOf, ct);
        var asked = new ScreensAsked(sites.Period, null, known, await policies.InForceAsync(asOf, ct));
        var all = await compare.RunAsync(db, asked, ct);
        var lines = Order(all.Where(l => viewer.MaySee(l.Site.Id) && (string.IsNullOrEmpty(sites.County) || l.Site.County == sites.County)
            && (sites.Kind is null || l.Site.Kind == sites.Kind)), sites.Sort).ToList();
        var received = (await measure.RunAsync(asked with { Site = viewer.IsCoordinator ? null : viewer.SiteId }, ct))
            .ToLookup(t => t.SiteId);
        return new(
            sites.Period, known, lines,
            [.. all.Select(l => l.Site.County).Distinct().Order(StringComparer.Ordinal)],
            [.. (await silent.FindAsync(known, ct)).Where(s => viewer.MaySee(s.Id))],
            lines.ToDictionary(l => l.Site.Id, l => MeasureDelays.Figures(received[l.Site.Id])),
            isToday ? await OpenFindingsAsync(ct) : [])
        {
            RegionRefer = new(all.Sum(l => l.Counts.InfantsReferred), all.Sum(l => l.Counts.InfantsConcluded)),
            RegionInvalid = new(all.Sum(l => l.Counts.Invalid), all.Sum(l => l.Counts.Attempts)),
        };
    }

    private async Task<IReadOnlyList<(Site, QualityFinding)>> OpenFindingsAsync(CancellationToken ct)
    {
        var findings = await db.QualityFindings.AsNoTracking().Where(f => f.ResolvedOn == null && f.Subject != QualitySubject.Site)
            .Join(db.Sites, f => f.SiteId, s => s.Id, (f, s) => new { Site = s, Finding = f })
            .OrderBy(x => x.Site.Name).ThenBy(x => x.Finding.Name).ToListAsync(ct);
        return [.. findings.Where(x => viewer.MaySee(x.Site.Id)).Select(x => (x.Site, x.Finding))];
    }

    private static IEnumerable<SiteLine> Order(IEnumerable<SiteLine> lines, string? sort) => sort switch
    {
        "refer" => lines.OrderBy(l => l.Counts.Refer.Rate),
        "-refer" => lines.OrderByDescending(l => l.Counts.Refer.Rate),
        "invalid" => lines.OrderBy(l => l.Counts.InvalidTests.Rate),
        "-invalid" => lines.OrderByDescending(l => l.Counts.InvalidTests.Rate),
        "infants" => lines.OrderBy(l => l.Counts.Infants),
        "-infants" => lines.OrderByDescending(l => l.Counts.Infants),
        "age" => lines.OrderBy(l => l.Counts.MedianAgeHours),
        "-age" => lines.OrderByDescending(l => l.Counts.MedianAgeHours),
        "-name" => lines.Reverse(),
        _ => lines,
    };
}
