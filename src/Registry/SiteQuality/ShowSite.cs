using Microsoft.EntityFrameworkCore;
using Registry.Access;
using Registry.Infants.Statuses;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Rules.Quality;
using Registry.Rules.Statistics;

namespace Registry.SiteQuality;

/// <summary>One group of a site's attempts against the site's other groups of the same kind.</summary>
public sealed record UnitLine(ScreenCounts Counts, RateComparison Refer, RateComparison Invalid);

/// <summary>A site's screening, week by week.</summary>
public sealed record ScreeningWeeks(IReadOnlyList<ScreenCounts> Weeks, PChart? Refer, PChart? Invalid);

/// <summary>From test to receipt, of the site and of each of its instruments.</summary>
public sealed record SiteDelays(DelayFigures Site, IReadOnlyList<(string Instrument, DelayFigures Figures)> Instruments);

/// <summary>One site's screening of a period.</summary>
/// <param name="Total">Null without a test in the period.</param>
/// <param name="Units">Each kind of group by which the site's attempts are broken down.</param>
/// <param name="Compared">Outcomes beside the site's own criterion; null when it states none.</param>
/// <param name="Rhythm">How often it sends; null when nothing was received in the time looked at.</param>
public sealed record ShownSite(
    Site Site, StatusesAsOf Statuses, ScreenCounts? Total, ScreeningWeeks ByWeek,
    IReadOnlyList<(ScreenGrouping Grouping, IReadOnlyList<UnitLine> Lines)> Units, ComparedOutcomes? Compared, SiteRhythm? Rhythm,
    SiteDelays Delays);

/// <summary>Shows where a site's refers and invalid tests come from.</summary>
public sealed class ShowSite(
    RegistryDb db, CountScreens count, StatusSource statuses, PolicyStore policies, SilentSites silent, CompareOutcomes compare,
    MeasureDelays measure, Viewer viewer)
{
    private static readonly ScreenGrouping[] Breakdowns =
        [ScreenGrouping.Instrument, ScreenGrouping.Probe, ScreenGrouping.Screener, ScreenGrouping.Method, ScreenGrouping.Age];

    /// <returns>Null for a site the viewer may not see, as for one that does not exist.</returns>
    public async Task<ShownSite?> AsOfAsync(string code, Period period, DateOnly asOf, CancellationToken ct)
    {
        var site = await db.Sites.AsNoTracking().FirstOrDefaultAsync(s => s.Code == code, ct);
        if (site is null || !viewer.MaySee(site.Id)) return null;
        var known = await statuses.AsOfAsync(asOf, ct);
        var asked = new ScreensAsked(period, site.Id, known, await policies.InForceAsync(asOf, ct));
        var weeks = await count.ByAsync(ScreenGrouping.Week, asked, ct);
        var received = await measure.RunAsync(asked, ct);
        return new(
            site, known,
            (await count.ByAsync(ScreenGrouping.Site, asked, ct)).SingleOrDefault(),
            new(weeks, PChart.Exact([.. weeks.Select(w => w.EarRefer)]), PChart.Exact([.. weeks.Select(w => w.InvalidTests)])),
            await UnitsAsync(asked, ct),
            await compare.ForSiteAsync(site, asked, ct),
            (await silent.RhythmsAsync(known, ct)).FirstOrDefault(s => s.Id == site.Id),
            new(MeasureDelays.Figures(received), [.. received.GroupBy(t => t.Instrument).OrderBy(g => g.Key, StringComparer.Ordinal)
                .Select(g => (g.Key, MeasureDelays.Figures(g)))]));
    }

    private async Task<IReadOnlyList<(ScreenGrouping, IReadOnlyList<UnitLine>)>> UnitsAsync(ScreensAsked asked, CancellationToken ct)
    {
        var units = new List<(ScreenGrouping, IReadOnlyList<UnitLine>)>();
        foreach (var grouping in Breakdowns)
        {
            var counts = await count.ByAsync(grouping, asked, ct);
            var refer = FlagHighRates.Compare([.. counts.Select(c => c.EarRefer)]);
            var invalid = FlagHighRates.Compare([.. counts.Select(c => c.InvalidTests)]);
            units.Add((grouping, [.. counts.Select((c, i) => new UnitLine(c, refer[i], invalid[i]))]));
        }

        return units;
    }
}
