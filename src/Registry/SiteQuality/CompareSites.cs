using Npgsql;
using Registry.Infants.Statuses;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Rules.Quality;

namespace Registry.SiteQuality;

/// <summary>One site's screening against the region's.</summary>
public sealed record SiteLine(Site Site, ScreenCounts Counts, RateComparison Refer, RateComparison Invalid)
{
    /// <summary>Evidence for a person, one sentence per flag.</summary>
    public IEnumerable<string> Evidence()
    {
        if (Refer.High) yield return Sentence("infants referred at discharge", Refer);
        if (Invalid.High) yield return Sentence("tests without a valid result", Invalid);
    }

    internal static string Sentence(string what, RateComparison c) => string.Create(System.Globalization.CultureInfo.InvariantCulture,
        $"{c.Observed.Numerator:#,0} of {c.Observed.Denominator:#,0} {what} ({c.Observed.ToPercent():0.0} %), region {c.Target * 100:0.0} "
            + $"%, above the 99.8 % limit of {c.UpperLimit * 100:0.0} % for its size");
}

/// <summary>Compares the screening sites of the region over a period of test days.</summary>
public sealed class CompareSites(NpgsqlDataSource source, CountScreens count, PolicyStore policies)
{
    /// <returns>Every site that made an attempt in the period, by name.</returns>
    public async Task<IReadOnlyList<SiteLine>> RunAsync(DateOnly from, DateOnly to, StatusesAsOf asOf, CancellationToken ct)
    {
        var policy = await policies.InForceAsync(asOf.AsOf, ct);
        var counts = await count.ByAsync(ScreenGrouping.Site, from, to, null, asOf, policy, ct);
        var refer = FlagHighRates.Compare([.. counts.Select(c => c.Refer)]);
        var invalid = FlagHighRates.Compare([.. counts.Select(c => c.InvalidTests)]);
        var sites = await SitesAsync(ct);
        return [.. counts.Select((c, i) => new SiteLine(sites[Guid.Parse(c.Unit)], c, refer[i], invalid[i]))
            .OrderBy(l => l.Site.Name, StringComparer.Ordinal)];
    }

    private async Task<Dictionary<Guid, Site>> SitesAsync(CancellationToken ct)
    {
        await using var command = source.CreateCommand("select id, code, name, county, kind, has_nicu, active from sites");
        await using var r = await command.ExecuteReaderAsync(ct);
        var sites = new Dictionary<Guid, Site>();
        while (await r.ReadAsync(ct))
        {
            sites[r.GetGuid(0)] = new Site
            {
                Id = new SiteId(r.GetGuid(0)),
                Code = r.GetString(1),
                Name = r.GetString(2),
                County = r.GetString(3),
                Kind = Rules.Facts.Codes.Parse<SiteKind>(r.GetString(4)),
                HasNicu = r.GetBoolean(5),
                Active = r.GetBoolean(6),
            };
        }

        return sites;
    }
}
