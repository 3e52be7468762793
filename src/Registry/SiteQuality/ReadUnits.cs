using Microsoft.EntityFrameworkCore;
using Registry.Infants.Counting;
using Registry.Records;
using Registry.Rules;
using Registry.Rules.Quality;
using Registry.Rules.Statistics;

namespace Registry.SiteQuality;

/// <summary>One site, or one of its instruments, probes, …, with what the nightly comparison found of it.</summary>
public sealed record UnitLine(Site Site, ScreenCounts Counts, IReadOnlyList<QualityFinding> Findings)
{
    /// <summary>Of a site: what became of the infants born there; null of others, and where none was.</summary>
    public BirthFigures? Births { get; init; }

    /// <summary>Its first tests that refer beside what its infants let expect, as the last night compared them; null of who was
    /// not.</summary>
    public ComparedUnit? Compared { get; init; }

    /// <summary>Of a site: tests that came later than agreed; null of others, and by day of birth.</summary>
    public Proportion? Late { get; init; }

    /// <summary>Of a site: within how many days half of its results were here.</summary>
    public int? MedianDays { get; init; }

    /// <summary>How a URL names a screener: by pseudonym; null of others, which it names as reported.</summary>
    public string? Key { get; init; }

    /// <summary>The same of several sites together; null of none.</summary>
    public static Proportion? LateOf(IEnumerable<UnitLine> sites) => sites.Select(s => s.Late).OfType<Proportion>().ToList()
        is { Count: > 0 } late ? new(late.Sum(l => l.Numerator), late.Sum(l => l.Denominator)) : null;

    /// <summary>Whose lateness is a mark: fewer than nine in ten results were here within the days agreed.</summary>
    /// <param name="sites">All that are compared.</param>
    /// <param name="policy">How many may carry a mark.</param>
    public static StandingMarks LateStands(IEnumerable<UnitLine> sites, Policy policy) => CommonMarks.Of(
        [.. sites.Where(s => s.Late is not null).Select(s => new MarkedUnit(s.Site.Code, IsLate(s.Late!.Value), s.Late.Value.Rate ?? 0))],
        policy);

    private static bool IsLate(Proportion late) =>
        late.Denominator >= DescribeDelays.FewestTests && 10 * late.Numerator > late.Denominator;

    public bool IsFlagged => Findings.Count > 0;

    /// <summary>What is wrong with a measure.</summary>
    public IEnumerable<QualityFinding> Of(params SessionMeasure[] measures) => Findings.Where(f => measures.Contains(f.Measure));
}

/// <summary>Every site, and what stands against it, the oldest first.</summary>
/// <param name="Sites">All of them.</param>
/// <param name="Findings">What the night found.</param>
/// <param name="Open">With what it no longer finds and nobody closed.</param>
public sealed record StandingAtSites(
    IReadOnlyDictionary<SiteId, Site> Sites, ILookup<SiteId, QualityFinding> Findings, ILookup<SiteId, QualityFinding> Open);

/// <summary>Reads sites, or their units, with their counts and what stands against them.</summary>
public sealed class ReadUnits(CountScreens count, MeasureDelays delays)
{
    /// <summary>Sites, with how many of their tests came later than they agreed to.</summary>
    /// <param name="standing">Of all sites.</param>
    /// <param name="asked">Of all sites.</param>
    /// <param name="rhythms">How often each sends.</param>
    /// <param name="ct">Cancels.</param>
    public async Task<IReadOnlyList<UnitLine>> SitesAsync(
        Task<StandingAtSites> standing, ScreensAsked asked, IReadOnlyList<SiteRhythm> rhythms, CancellationToken ct)
    {
        var reading = RunAsync(standing, ScreenGrouping.Site, asked, ct);
        if (asked.By != CountedDay.Test) return await reading;
        var sites = (await standing).Sites;
        var arrival = await delays.ArrivalAsync(asked, id =>
            MeasureDelays.WithinDays(sites[id], rhythms.FirstOrDefault(r => r.Id == id), asked.Policy), ct);
        return [.. (await reading).Select(l => !arrival.TryGetValue(l.Site.Id, out var tests) ? l
            : l with { Late = tests.Late, MedianDays = tests.MedianDays })];
    }

    /// <param name="standing">May still be read: the counts are read meanwhile.</param>
    /// <param name="grouping">What a line is.</param>
    /// <param name="asked">Of whom, and when.</param>
    /// <param name="ct">Cancels.</param>
    /// <returns>Every unit that made a test in the period, by site and name.</returns>
    public async Task<IReadOnlyList<UnitLine>> RunAsync(
        Task<StandingAtSites> standing, ScreenGrouping grouping, ScreensAsked asked, CancellationToken ct)
    {
        var counts = await count.ByAsync(grouping, asked, ct);
        var (sites, findings, _) = await standing;
        return [.. counts
            .Select(c => new UnitLine(sites[c.SiteId], c, [.. findings[c.SiteId].Where(f => Concerns(f, grouping, c.Unit))]))
            .OrderBy(l => l.Site.Name, StringComparer.Ordinal).ThenBy(l => l.Counts.Unit, StringComparer.Ordinal)];
    }

    /// <summary>The sites, and what stood against each on the day asked about, as it was named then: raised by a night until that day, and
    /// closed by nobody.</summary>
    public static async Task<StandingAtSites> StandingAsync(RegistryDb db, ScreensAsked asked, CancellationToken ct)
    {
        var sites = await db.Sites.AsNoTracking().ToDictionaryAsync(s => s.Id, ct);
        var findings = db.QualityFindings.AsNoTracking();
        var day = asked.AsOf ?? DateOnly.MaxValue;
        List<QualityFinding> open = [.. (await findings.Where(f => f.RecordedOn <= day && (f.ClosedOn == null || f.ClosedOn > day))
            .OrderBy(f => f.FoundOn).ToListAsync(ct)).Select(f => f.KnownOn(day))];
        var found = open.Where(f => f.ResolvedOn is null || f.ResolvedOn > day);
        return new(sites, found.ToLookup(f => f.SiteId), open.ToLookup(f => f.SiteId));
    }

    /// <summary>A site answers for everything found at it; a unit for itself.</summary>
    private static bool Concerns(QualityFinding finding, ScreenGrouping grouping, string unit) => grouping switch
    {
        ScreenGrouping.Site => true,
        ScreenGrouping.Instrument => finding.Named.Part == new CauseFactor(CauseKind.Instrument, unit),
        ScreenGrouping.Probe => finding.Named.Part == new CauseFactor(CauseKind.Probe, unit),
        ScreenGrouping.Screener => finding.Named.Part == new CauseFactor(CauseKind.Screener, unit),
        _ => false,
    };
}
