using Microsoft.EntityFrameworkCore;
using Registry.Infants.Counting;
using Registry.Records;
using Registry.Rules.Quality;

namespace Registry.SiteQuality;

/// <summary>One site, or one of its instruments, probes, …, with what the nightly comparison found of it.</summary>
public sealed record UnitLine(Site Site, ScreenCounts Counts, IReadOnlyList<QualityFinding> Findings)
{
    /// <summary>Of a site: what became of the infants born there; null of others, and where none was.</summary>
    public BirthFigures? Births { get; init; }

    public bool IsFlagged => Findings.Count > 0;

    /// <summary>What is wrong with a measure.</summary>
    public IEnumerable<QualityFinding> Of(params SessionMeasure[] measures) => Findings.Where(f => measures.Contains(f.Measure));
}

/// <summary>Reads sites, or their units, with their counts and what stands against them.</summary>
public sealed class ReadUnits(CountScreens count)
{
    /// <returns>Every unit that made a test in the period, by site and name.</returns>
    public async Task<IReadOnlyList<UnitLine>> RunAsync(RegistryDb db, ScreenGrouping grouping, ScreensAsked asked, CancellationToken ct)
    {
        var sites = await db.Sites.AsNoTracking().ToDictionaryAsync(s => s.Id, ct);
        var findings = (await StandingAsync(db, asked, ct)).ToLookup(f => f.SiteId);
        return [.. (await count.ByAsync(grouping, asked, ct))
            .Select(c => new UnitLine(sites[c.SiteId], c, [.. findings[c.SiteId].Where(f => Concerns(f, grouping, c.Unit))]))
            .OrderBy(l => l.Site.Name, StringComparer.Ordinal).ThenBy(l => l.Counts.Unit, StringComparer.Ordinal)];
    }

    /// <summary>What stood on the day asked about: found, and closed by nobody.</summary>
    public static async Task<IReadOnlyList<QualityFinding>> StandingAsync(RegistryDb db, ScreensAsked asked, CancellationToken ct)
    {
        var findings = db.QualityFindings.AsNoTracking();
        findings = asked.AsOf is { } day
            ? findings.Where(f => f.FoundOn <= day && (f.ResolvedOn == null || f.ResolvedOn > day)
                && (f.ClosedOn == null || f.ClosedOn > day))
            : findings.Where(f => f.ResolvedOn == null && f.ClosedOn == null);
        return await findings.Where(f => asked.Site == null || f.SiteId == asked.Site).OrderBy(f => f.FoundOn).ToListAsync(ct);
    }

    /// <summary>A site answers for everything found at it; a unit for itself.</summary>
    private static bool Concerns(QualityFinding finding, ScreenGrouping grouping, string unit) => grouping switch
    {
        ScreenGrouping.Site => true,
        ScreenGrouping.Instrument => finding.Cause == CauseKind.Instrument && finding.Name == unit,
        ScreenGrouping.Probe => finding.Cause == CauseKind.Probe && finding.Name == unit,
        ScreenGrouping.Screener => finding.Cause == CauseKind.Screener && finding.Name == unit,
        _ => false,
    };
}
