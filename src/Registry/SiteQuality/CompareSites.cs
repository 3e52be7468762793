using Microsoft.EntityFrameworkCore;
using Registry.Records;
using Registry.Rules.Quality;

namespace Registry.SiteQuality;

/// <summary>One site's screening against the region's.</summary>
public sealed record SiteLine(Site Site, ScreenCounts Counts, RateComparison Refer, RateComparison Invalid);

/// <summary>Compares the screening sites of the region over a period of test days.</summary>
public sealed class CompareSites(CountScreens count)
{
    /// <returns>Every site that made an attempt in the period, by name.</returns>
    public async Task<IReadOnlyList<SiteLine>> RunAsync(RegistryDb db, ScreensAsked asked, CancellationToken ct)
    {
        var counts = await count.ByAsync(ScreenGrouping.Site, asked, ct);
        var refer = FlagHighRates.Compare([.. counts.Select(c => c.Refer)]);
        var invalid = FlagHighRates.Compare([.. counts.Select(c => c.InvalidTests)]);
        var sites = await db.Sites.AsNoTracking().ToDictionaryAsync(s => s.Id.Value, ct);
        return [.. counts.Select((c, i) => new SiteLine(sites[Guid.Parse(c.Unit)], c, refer[i], invalid[i]))
            .OrderBy(l => l.Site.Name, StringComparer.Ordinal)];
    }
}
