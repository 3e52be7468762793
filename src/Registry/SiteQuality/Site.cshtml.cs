using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Microsoft.EntityFrameworkCore;
using Registry.Access;
using Registry.Infants.Statuses;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Rules.Quality;
using Registry.Rules.Statistics;
using Registry.Ui;

namespace Registry.SiteQuality;

/// <summary>One group of a site's attempts against the site's other groups of the same kind.</summary>
public sealed record UnitLine(ScreenCounts Counts, RateComparison Refer, RateComparison Invalid);

/// <summary>Where a site's refers and invalid tests come from: week by week, by instrument, probe, screener, method and age.</summary>
[Authorize(Policy = Permissions.Person)]
public sealed class SiteModel(
    RegistryDb db, CountScreens count, StatusSource statuses, PolicyStore policies, SilentSites silent, CompareOutcomes compare,
    MeasureDelays measure, AsOf asOf, Viewer viewer) : PageModel
{
    public static readonly (ScreenGrouping Grouping, string Title, string Parameter)[] Breakdowns =
    [
        (ScreenGrouping.Instrument, "Instrument", "instrument"),
        (ScreenGrouping.Probe, "Probe", "probe"),
        (ScreenGrouping.Screener, "Screener", "screener"),
        (ScreenGrouping.Method, "Method", "method"),
        (ScreenGrouping.AgeAtTest, "Age at the test", "age"),
    ];

    [FromQuery(Name = "from")] public string? FromText { get; set; }
    [FromQuery(Name = "to")] public string? ToText { get; set; }

    public Site Site { get; private set; } = null!;
    public Period Period { get; private set; }
    public StatusesAsOf Statuses { get; private set; } = null!;
    public ScreenCounts? Total { get; private set; }
    public IReadOnlyList<ScreenCounts> Weeks { get; private set; } = [];
    public PChart? ReferChart { get; private set; }
    public PChart? InvalidChart { get; private set; }
    public IReadOnlyDictionary<ScreenGrouping, IReadOnlyList<UnitLine>> Units { get; private set; } =
        new Dictionary<ScreenGrouping, IReadOnlyList<UnitLine>>();

    /// <summary>Outcomes beside the site's own criterion; null when it states none.</summary>
    public ComparedOutcomes? Compared { get; private set; }

    /// <summary>How often it sends; null when nothing was received in the time looked at.</summary>
    public SiteRhythm? Rhythm { get; private set; }

    /// <summary>From test to receipt, of the site and of each of its instruments.</summary>
    public DelayFigures Delays { get; private set; } = DescribeDelays.Of([]);
    public IReadOnlyList<(string Instrument, DelayFigures Figures)> InstrumentDelays { get; private set; } = [];

    public async Task<IActionResult> OnGetAsync(string code, CancellationToken ct)
    {
        var site = await db.Sites.AsNoTracking().FirstOrDefaultAsync(s => s.Code == code, ct);
        if (site is null || !viewer.MaySee(site.Id)) return NotFound();
        Site = site;
        Statuses = await statuses.AsOfAsync(asOf.Date, ct);
        Period = Period.Read(FromText, ToText, asOf.Date);
        var policy = await policies.InForceAsync(asOf.Date, ct);
        Total = (await count.ByAsync(ScreenGrouping.Site, Period.From, Period.To, site.Id, Statuses, policy, ct)).SingleOrDefault();
        Weeks = await count.ByAsync(ScreenGrouping.Week, Period.From, Period.To, site.Id, Statuses, policy, ct);
        ReferChart = PChart.Exact([.. Weeks.Select(w => w.EarRefer)]);
        InvalidChart = PChart.Exact([.. Weeks.Select(w => w.InvalidTests)]);
        var units = new Dictionary<ScreenGrouping, IReadOnlyList<UnitLine>>();
        foreach (var (grouping, _, _) in Breakdowns)
        {
            var counts = await count.ByAsync(grouping, Period.From, Period.To, site.Id, Statuses, policy, ct);
            var refer = FlagHighRates.Compare([.. counts.Select(c => c.EarRefer)]);
            var invalid = FlagHighRates.Compare([.. counts.Select(c => c.InvalidTests)]);
            units[grouping] = [.. counts.Select((c, i) => new UnitLine(c, refer[i], invalid[i]))];
        }

        Units = units;
        Compared = await compare.ForSiteAsync(site, Period.From, Period.To, Statuses, policy, ct);
        Rhythm = (await silent.RhythmsAsync(Statuses, ct)).FirstOrDefault(s => s.Id == site.Id);
        var received = await measure.RunAsync(Period.From, Period.To, site.Id, Statuses, policy, ct);
        Delays = MeasureDelays.Figures(received);
        InstrumentDelays = [.. received.GroupBy(t => t.Instrument).OrderBy(g => g.Key, StringComparer.Ordinal)
            .Select(g => (g.Key, MeasureDelays.Figures(g)))];
        return Page();
    }
}
