using Microsoft.EntityFrameworkCore;
using Registry.Access;
using Registry.Infants.Counting;
using Registry.Records;
using Registry.Rules.Quality;
using Registry.Rules.Statistics;

namespace Registry.SiteQuality;

/// <summary>Which sites or units, in which order.</summary>
/// <param name="Days">Days of test, or of birth.</param>
/// <param name="By">Sites, or their instruments, probes, …</param>
/// <param name="County">Null or empty: all.</param>
/// <param name="Sort">A column's name, with a minus in front for the largest first; null: by name.</param>
public sealed record SitesAsked(Period Period, CountedDay Days, ScreenGrouping By, string? County, SiteKind? Kind, string? Sort);

/// <summary>The region's sites, or their units, as a viewer may see them.</summary>
/// <param name="Lines">Of the sites the viewer sees.</param>
/// <param name="Region">All of them together.</param>
/// <param name="Born">Of all infants born in the days looked at; null when units are compared, or of a past day not computed.</param>
/// <param name="Counties">To choose from.</param>
/// <param name="Silent">Sites that sent nothing for longer than usual.</param>
public sealed record ShownSites(
    SitesAsked Asked, DateOnly AsOf, string PolicyVersion, IReadOnlyList<UnitLine> Lines, ScreenCounts Region,
    BirthFigures? Born, IReadOnlyList<string> Counties, IReadOnlyList<SiteRhythm> Silent)
{
    /// <summary>Births or screens that have stopped.</summary>
    public IReadOnlyList<StoppedFacts> Stopped { get; init; } = [];

    /// <summary>Ways of sending that fell silent, of sites that send by another.</summary>
    public IReadOnlyList<FeedRhythm> SilentFeeds { get; init; } = [];

    /// <summary>Whose silent ways of sending say something of the site.</summary>
    public StandingMarks FeedsStand { get; init; } = new(false, new HashSet<string>());

    /// <summary>Whose silence says something of the site; when most are silent it says something of the region.</summary>
    public StandingMarks SilenceStands { get; init; } = new(false, new HashSet<string>());

    /// <summary>Whose late results say something of the site.</summary>
    public StandingMarks LateStands { get; init; } = new(false, new HashSet<string>());

    /// <summary>Whose results kept back and bursts say something of the site.</summary>
    public KeptBackMarks KeptBack { get; init; } = KeptBackMarks.None;

    /// <summary>Tests of all sites that came later than each agreed to; null by day of birth, and of units.</summary>
    public Proportion? Late { get; init; }
}

/// <summary>Compares the region's sites for a viewer. Others' rates are not a site's business: it sees its own line and the
/// region.</summary>
public sealed class ShowSites(
    RegistryDb db, ReadUnits read, ReadBirths births, AskScreens ask, SilentSites silent, SilentFeeds feeds, FindStoppedFacts stopped,
    NameScreeners names, ReadComparisons comparisons, Viewer viewer)
{
    private static readonly IReadOnlyDictionary<SiteId, BirthFigures> Nothing = new Dictionary<SiteId, BirthFigures>();

    /// <summary>The code of the viewer's one site; null for who sees several.</summary>
    public async Task<string?> OwnAsync(CancellationToken ct) => viewer.IsCoordinator || viewer.SiteId is not { } own
        ? null : await db.Sites.Where(s => s.Id == own).Select(s => s.Code).FirstOrDefaultAsync(ct);

    public async Task<ShownSites> AsOfAsync(SitesAsked sites, DateOnly asOf, CancellationToken ct)
    {
        var asked = await ask.AsOfAsync(sites.Period, sites.Days, null, asOf, ct);
        var ofSites = sites.By == ScreenGrouping.Site;
        // What does not lean on each other is asked at once, each on a connection of its own.
        var compared = comparisons.OfKindAsync(sites.By, asked, ct);
        var sending = ofSites ? feeds.OfAllAsync(asOf, ct) : Task.FromResult<IReadOnlyList<FeedRhythm>>([]);
        var became = ofSites ? births.RunAsync(sites.Period, asOf, ct) : Task.FromResult((Nothing, (BirthFigures?)null));
        var rhythms = ofSites ? await silent.RhythmsAsync(asOf, ct) : [];
        var standing = ReadUnits.StandingAsync(db, asked, ct);
        var all = ofSites ? await read.SitesAsync(standing, asked, rhythms, ct) : await read.RunAsync(standing, sites.By, asked, ct);
        List<SiteRhythm> quiet = [.. rhythms.Where(s => s.IsSilent)];
        var (ways, (born, region)) = (await sending, await became);
        var kept = ofSites ? await ReadKeptBack.StandsAsync(db, asked, ct) : KeptBackMarks.None;
        var lines = all.Concat(await WithoutTestsAsync(all, [.. quiet.Select(s => s.Id).Union(born.Keys)], kept.Marked, ct))
            .Select(l => l with { Births = born.GetValueOrDefault(l.Site.Id) }).OrderBy(l => l.Site.Name, StringComparer.Ordinal)
            .Where(l => viewer.MaySee(l.Site.Id) && (string.IsNullOrEmpty(sites.County) || l.Site.County == sites.County)
            && (sites.Kind is null || l.Site.Kind == sites.Kind));
        return new(
            sites, asOf, asked.Policy.Version,
            [.. SortUnits.By(ReadComparisons.Beside(
                lines.Select(l => l with { Findings = [.. l.Findings.Select(names.Of)] }), sites.By, await compared), sites.Sort)],
            ScreenCounts.Sum(default, "", all.Select(l => l.Counts)),
            region,
            [.. all.Select(l => l.Site.County).Distinct().Order(StringComparer.Ordinal)],
            quiet)
        {
            Late = UnitLine.LateOf(all),
            LateStands = UnitLine.LateStands(all, asked.Policy),
            KeptBack = kept,
            SilenceStands = CommonMarks.Of([.. rhythms.Select(r =>
                new MarkedUnit(r.Code, r.IsSilent, (double)(r.Silence ?? SiteRhythm.DaysLookedAt) / r.ExpectedWithin))], asked.Policy),
            SilentFeeds = [.. ways.Where(f => f.FellSilent)],
            FeedsStand = SilentFeeds.Stand(ways, rhythms, asked.Policy),
            Stopped = rhythms.Count > 0 ? await stopped.FindAsync(rhythms, asOf, ct) : [],
        };
    }

    /// <summary>A silent site, one where infants were born, or one that keeps results back has a line without a test in the period too:
    /// what is missing is seen where it is looked for.</summary>
    private async Task<IEnumerable<UnitLine>> WithoutTestsAsync(
        IReadOnlyList<UnitLine> lines, IEnumerable<SiteId> expected, IEnumerable<string> marked, CancellationToken ct)
    {
        SiteId[] missing = [.. expected.Except(lines.Select(l => l.Site.Id))];
        string[] codes = [.. marked.Except(lines.Select(l => l.Site.Code))];
        if (missing.Length + codes.Length == 0) return [];
        var sites = await db.Sites.AsNoTracking().Where(s => missing.Contains(s.Id) || codes.Contains(s.Code)).ToListAsync(ct);
        return sites.Select(s => new UnitLine(s, ScreenCounts.Sum(s.Id, "", []), []));
    }
}

/// <summary>The order of lines, by the name of a column in the URL.</summary>
public static class SortUnits
{
    private static readonly Dictionary<string, Func<UnitLine, double?>> Columns = new()
    {
        ["infants"] = l => l.Counts.Infants,
        ["first"] = l => l.Counts.FirstRefer.Rate,
        ["ratio"] = l => l.Compared?.Ratio,
        ["refer"] = l => l.Counts.Refer.Rate,
        ["invalid"] = l => l.Counts.InvalidTests.Rate,
        ["attempts"] = l => l.Counts.AttemptsPerEar,
        ["both"] = l => l.Counts.BothEars.Rate,
        ["early"] = l => l.Counts.EarlyFirst.Rate,
        ["missed"] = l => l.Births?.Missed.Rate,
        ["lost"] = l => l.Births?.Lost.Rate,
        ["late"] = l => l.Late?.Rate,
    };

    public static IEnumerable<UnitLine> By(IEnumerable<UnitLine> lines, string? sort) =>
        sort == "-name" ? lines.Reverse()
        : sort is not null && Columns.TryGetValue(sort.TrimStart('-'), out var column)
            ? sort[0] == '-' ? lines.OrderByDescending(column) : lines.OrderBy(column)
        : lines;
}
