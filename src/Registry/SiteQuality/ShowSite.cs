using Microsoft.EntityFrameworkCore;
using Registry.Access;
using Registry.Infants.Counting;
using Registry.Records;
using Registry.Rules;
using Registry.Rules.Quality;
using Registry.Rules.Statistics;
using Registry.Ui;

namespace Registry.SiteQuality;

/// <summary>From test to receipt, of the site and of each of its instruments.</summary>
/// <param name="WithinDays">What the site agreed to; else the larger of the policy's days and the usual gap of its own sendings.</param>
public sealed record SiteDelays(
    DelayFigures Site, IReadOnlyList<(string Instrument, DelayFigures Figures)> Instruments, int WithinDays, Policy Policy);

/// <summary>One site's screening of a period.</summary>
/// <param name="Findings">What stands against the site, the oldest first.</param>
/// <param name="Total">Null without a test in the period.</param>
/// <param name="Others">All other sites together.</param>
/// <param name="Births">Of the infants born at the site in the days looked at; null when none was.</param>
/// <param name="Born">Of the infants born at the other sites in these days; null for a past day whose statuses were not computed.</param>
/// <param name="MedianAgeHours">At the first attempt; null when no time of birth is known.</param>
/// <param name="Units">Each kind of group by which the site's tests are broken down.</param>
/// <param name="Compared">Outcomes beside the site's own criterion; null when it states none.</param>
/// <param name="Rhythm">How often it sends; null when nothing was received in the time looked at.</param>
public sealed record ShownSite(
    Site Site, ScreensAsked Asked, DateOnly AsOf, IReadOnlyList<FoundUnit> Findings, UnitLine? Total, ScreenCounts Others,
    BirthFigures? Births, BirthFigures? Born,
    double? MedianAgeHours, ScreeningWeeks ByWeek,
    IReadOnlyList<(ScreenGrouping Grouping, IReadOnlyList<UnitLine> Lines)> Units, ComparedOutcomes? Compared, SiteRhythm? Rhythm,
    SiteDelays Delays)
{
    /// <summary>The submissions of a day.</summary>
    public string ReceivedOn(AsOf asOf, Viewer viewer, DateOnly day) =>
        asOf.Link("/submissions", ("site", viewer.IsCoordinator ? Site.Code : null), ("from", day), ("to", day));

    /// <summary>Flags of it that nobody closed; with those the last night did not find.</summary>
    public int OpenFlags { get; init; }

    /// <summary>How often each way of sending is used.</summary>
    public IReadOnlyList<FeedRhythm> Feeds { get; init; } = [];

    /// <summary>Births or screens that have stopped.</summary>
    public IReadOnlyList<StoppedFacts> Stopped { get; init; } = [];

    /// <summary>Tests of the other sites that came later than each agreed to; null by day of birth.</summary>
    public Proportion? OthersLate { get; init; }

    /// <summary>Whether its own late results are a mark, or most sites' are late.</summary>
    public StandingMarks LateStands { get; init; } = new(false, new HashSet<string>());

    /// <summary>Whether its results kept back and its bursts are marks of its own.</summary>
    public KeptBackMarks KeptBack { get; init; } = KeptBackMarks.None;

    /// <summary>What the last night compared: the site and its units, every measure.</summary>
    public IReadOnlyList<ComparedUnit> ComparedUnits { get; init; } = [];

    /// <summary>Beside sites of its care and volume; null where there are too few.</summary>
    public LikeComparison? Like { get; init; }
}

/// <summary>Shows where a site's refers and invalid tests come from.</summary>
public sealed class ShowSite(
    RegistryDb db, CountScreens count, ReadUnits read, ReadBirths births, AskScreens ask, SilentSites silent, SilentFeeds feeds,
    FindStoppedFacts stopped, CompareOutcomes outcomes, MeasureDelays measure, ReadFoundUnits found, ReadMarks marks,
    ReadComparisons comparisons, NameScreeners names, Viewer viewer)
{
    private static readonly ScreenGrouping[] Breakdowns =
    [
        ScreenGrouping.Instrument, ScreenGrouping.Probe, ScreenGrouping.Screener, ScreenGrouping.Method, ScreenGrouping.Age,
        ScreenGrouping.Hour,
    ];

    /// <returns>Null for a site the viewer may not see, as for one that does not exist.</returns>
    public async Task<ShownSite?> AsOfAsync(string code, Period period, CountedDay days, DateOnly asOf, CancellationToken ct)
    {
        var site = await db.Sites.AsNoTracking().FirstOrDefaultAsync(s => s.Code == code, ct);
        if (site is null || !viewer.MaySee(site.Id)) return null;
        var asked = await ask.AsOfAsync(period, days, site.Id, asOf, ct);
        var rhythms = await silent.RhythmsAsync(asOf, ct);
        var comparing = comparisons.OfSiteAsync(site.Id, asked, ct);
        var standing = ReadUnits.StandingAsync(db, asked, ct);
        var sites = await read.SitesAsync(standing, asked with { Site = null }, rhythms, ct);
        var compared = await comparing;
        var units = await UnitsAsync(standing, asked, compared, ct);
        var (born, _) = await births.RunAsync(period, asOf, ct);
        var own = born.GetValueOrDefault(site.Id);
        var rhythm = rhythms.FirstOrDefault(s => s.Id == site.Id);
        var done = await marks.OfSiteAsync(site.Id, asOf, ct);
        return new(
            site, asked, asOf, await found.RunAsync([.. (await standing).Findings[site.Id]], asked, done, ct),
            Named(ReadComparisons.Beside(sites.Where(l => l.Site.Id == site.Id), ScreenGrouping.Site, compared).FirstOrDefault())
                is { } total ? total with { Births = own } : null,
            ScreenCounts.Sum(default, "", sites.Where(l => l.Site.Id != site.Id).Select(l => l.Counts)), own,
            BirthFigures.Sum(born.Where(b => b.Key != site.Id).Select(b => b.Value)),
            AgeBands.Median(units.First(u => u.Grouping == ScreenGrouping.Age).Lines
                .ToDictionary(l => l.Counts.Unit, l => l.Counts.Infants)),
            ScreeningWeeks.Of(await count.ByDayAsync(ScreenGrouping.Site, asked, ct)) with { Marks = [.. done.Where(m => m.IsOfSite)] },
            units, await outcomes.ForSiteAsync(site, asked, ct),
            rhythm, await DelaysAsync(site, rhythm, asked, ct))
        {
            OpenFlags = (await standing).Open[site.Id].Count(),
            OthersLate = UnitLine.LateOf(sites.Where(l => l.Site.Id != site.Id)),
            LateStands = UnitLine.LateStands(sites, asked.Policy),
            KeptBack = await ReadKeptBack.StandsAsync(db, asked, ct),
            ComparedUnits = [.. compared.Select(names.Of)],
            Like = sites.FirstOrDefault(l => l.Site.Id == site.Id) is { } line ? CompareWithLike.Of(line, sites) : null,
            Feeds = await feeds.OfSiteAsync(site.Id, asOf, ct),
            Stopped = [.. (await stopped.FindAsync(rhythms, asOf, ct)).Where(s => s.SiteId == site.Id)],
        };
    }

    private UnitLine? Named(UnitLine? line) => line is null ? null : line with { Findings = [.. line.Findings.Select(names.Of)] };

    private async Task<SiteDelays> DelaysAsync(
        Site site, SiteRhythm? rhythm, ScreensAsked asked, CancellationToken ct)
    {
        var within = MeasureDelays.WithinDays(site, rhythm, asked.Policy);
        var received = await measure.RunAsync(asked, within, ct);
        return new(
            MeasureDelays.Figures(received, received, asked.Policy),
            [.. received.GroupBy(t => t.Instrument).OrderBy(g => g.Key, StringComparer.Ordinal)
                .Select(g => (g.Key, MeasureDelays.Figures(g, received, asked.Policy)))],
            within, asked.Policy);
    }

    private async Task<IReadOnlyList<(ScreenGrouping Grouping, IReadOnlyList<UnitLine> Lines)>> UnitsAsync(
        Task<StandingAtSites> standing, ScreensAsked asked, IReadOnlyList<ComparedUnit> compared, CancellationToken ct)
    {
        var units = new List<(ScreenGrouping, IReadOnlyList<UnitLine>)>();
        foreach (var grouping in Breakdowns)
        {
            IReadOnlyList<UnitLine> lines =
                [.. ReadComparisons.Beside(await read.RunAsync(standing, grouping, asked, ct), grouping, compared)];
            if (grouping == ScreenGrouping.Screener)
                lines = [.. lines.Select(l => Named(l)! with
                {
                    Counts = names.Of(l.Counts),
                    Key = NameScreeners.Pseudonym(l.Site.Id, l.Counts.Unit),
                })
                    .OrderBy(l => l.Counts.Unit, StringComparer.Ordinal)];
            units.Add((grouping, lines));
        }

        return units;
    }
}
