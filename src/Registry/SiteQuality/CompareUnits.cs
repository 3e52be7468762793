using Microsoft.EntityFrameworkCore;
using Registry.Infants.Counting;
using Registry.Records;
using Registry.Rules.Quality;

namespace Registry.SiteQuality;

/// <summary>One site, or one of its instruments, probes, …, against the others compared with it.</summary>
/// <param name="FirstRefer">Refers of first sessions.</param>
/// <param name="Refer">Refers at discharge.</param>
/// <param name="Invalid">Tests without a valid result.</param>
public sealed record UnitLine(
    Site Site, ScreenCounts Counts, RateComparison FirstRefer, RateComparison Refer, RateComparison Invalid)
{
    public bool IsFlagged => FirstRefer.High || Refer.High || Invalid.High;
}

/// <summary>Compares sites, or the units of sites, with each other.</summary>
public sealed class CompareUnits(CountScreens count)
{
    /// <returns>Every unit that made a test in the period, by site and name.</returns>
    public async Task<IReadOnlyList<UnitLine>> RunAsync(RegistryDb db, ScreenGrouping grouping, ScreensAsked asked, CancellationToken ct)
    {
        var sites = await db.Sites.AsNoTracking().ToDictionaryAsync(s => s.Id, ct);
        return Compare(await count.ByAsync(grouping, asked, ct), sites);
    }

    public static IReadOnlyList<UnitLine> Compare(IReadOnlyList<ScreenCounts> counts, IReadOnlyDictionary<SiteId, Site> sites)
    {
        var first = FlagHighRates.Compare([.. counts.Select(c => c.FirstRefer)]);
        var refer = FlagHighRates.Compare([.. counts.Select(c => c.Refer)]);
        var invalid = FlagHighRates.Compare([.. counts.Select(c => c.InvalidTests)]);
        return [.. counts.Select((c, i) => new UnitLine(sites[c.SiteId], c, first[i], refer[i], invalid[i]))
            .OrderBy(l => l.Site.Name, StringComparer.Ordinal).ThenBy(l => l.Counts.Unit, StringComparer.Ordinal)];
    }
}
