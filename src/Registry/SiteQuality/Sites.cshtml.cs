using System.Globalization;
using System.Text;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Microsoft.EntityFrameworkCore;
using Registry.Access;
using Registry.Infants.Statuses;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Rules.Quality;
using Registry.Rules.Statistics;
using Registry.Ui;

namespace Registry.SiteQuality;

/// <summary>Screening of every site a person may see, compared with the region. Counts only: it shows no infant.</summary>
[Authorize(Policy = Permissions.Person)]
public sealed class SitesModel(RegistryDb db, CompareSites compare, StatusSource statuses, SilentSites silent, MeasureDelays measure,
    PolicyStore policies, AsOf asOf, Viewer viewer) : PageModel
{
    [FromQuery(Name = "from")] public string? FromText { get; set; }
    [FromQuery(Name = "to")] public string? ToText { get; set; }
    [FromQuery(Name = "county")] public string? County { get; set; }
    [FromQuery(Name = "kind")] public string? KindText { get; set; }
    [FromQuery(Name = "sort")] public string? Sort { get; set; }

    public Period Period { get; private set; }
    public StatusesAsOf Statuses { get; private set; } = null!;
    public IReadOnlyList<SiteLine> Lines { get; private set; } = [];
    public IReadOnlyList<string> Counties { get; private set; } = [];
    public IReadOnlyList<SiteRhythm> Silent { get; private set; } = [];

    /// <summary>From test to receipt, of each line.</summary>
    public IReadOnlyDictionary<SiteId, DelayFigures> Delays { get; private set; } = new Dictionary<SiteId, DelayFigures>();

    /// <summary>Instruments and probes found by the nightly comparison, of sites the viewer sees; as of today only.</summary>
    public IReadOnlyList<(Site Site, QualityFinding Finding)> Units { get; private set; } = [];
    public SiteKind? Kind => Codes.TryParse<SiteKind>(KindText, out var kind) ? kind : null;
    public Proportion RegionRefer { get; private set; }
    public Proportion RegionInvalid { get; private set; }

    public async Task OnGetAsync(CancellationToken ct) => await LoadAsync(ct);

    /// <summary>The table as CSV. Counts of whole sites; it names no infant.</summary>
    public async Task<IActionResult> OnGetCsvAsync(CancellationToken ct)
    {
        await LoadAsync(ct);
        var csv = new StringBuilder("site,county,from,to,as_of,policy,infants_concluded,infants_referred,refer_percent,refer_low,refer_high,attempts,invalid,invalid_percent,invalid_low,invalid_high,median_age_hours,flagged,tests,delay_median_hours,delay_90th_percentile_hours,tests_late,tests_in_bursts\r\n");
        foreach (var line in Lines)
        {
            var (refer, invalid) = (line.Counts.Refer, line.Counts.InvalidTests);
            csv.AppendJoin(',', Csv(line.Site.Name), Csv(line.Site.County), Day(Period.From), Day(Period.To), Day(Statuses.AsOf),
                Csv(Statuses.PolicyVersion),
                refer.Denominator, refer.Numerator, refer.ToPercent(), Percent(refer.Wilson()?.Lower), Percent(refer.Wilson()?.Upper),
                invalid.Denominator, invalid.Numerator, invalid.ToPercent(), Percent(invalid.Wilson()?.Lower),
                Percent(invalid.Wilson()?.Upper),
                line.Counts.MedianAgeHours?.ToString("0.0", CultureInfo.InvariantCulture), line.Refer.High || line.Invalid.High
                    ? "yes" : "no",
                Delays[line.Site.Id].Tests, Delays[line.Site.Id].MedianHours?.ToString("0.0", CultureInfo.InvariantCulture),
                Delays[line.Site.Id].NinthDecileHours?.ToString("0.0", CultureInfo.InvariantCulture),
                Delays[line.Site.Id].Late.Numerator, Delays[line.Site.Id].InBursts.Numerator).Append("\r\n");
        }

        return File(Encoding.UTF8.GetBytes(csv.ToString()), "text/csv", "sites.csv");
    }

    private async Task LoadAsync(CancellationToken ct)
    {
        Statuses = await statuses.AsOfAsync(asOf.Date, ct);
        Period = Period.Read(FromText, ToText, asOf.Date);
        var all = await compare.RunAsync(Period.From, Period.To, Statuses, ct);
        RegionRefer = new Proportion(all.Sum(l => l.Counts.InfantsReferred), all.Sum(l => l.Counts.InfantsConcluded));
        RegionInvalid = new Proportion(all.Sum(l => l.Counts.Invalid), all.Sum(l => l.Counts.Attempts));
        Counties = [.. all.Select(l => l.Site.County).Distinct().Order(StringComparer.Ordinal)];
        // Others' rates are not a site's business: it sees its own line and the region.
        var seen = all.Where(l => viewer.MaySee(l.Site.Id) && (string.IsNullOrEmpty(County) || l.Site.County == County)
            && (Kind is not { } kind || l.Site.Kind == kind));
        Lines = [.. Order(seen)];
        if (asOf.IsToday) Units = await OpenFindingsAsync(ct);
        var policy = await policies.InForceAsync(asOf.Date, ct);
        var received = (await measure.RunAsync(Period.From, Period.To, viewer.IsCoordinator ? null : viewer.SiteId, Statuses, policy, ct))
            .ToLookup(t => t.SiteId);
        Delays = Lines.ToDictionary(l => l.Site.Id, l => MeasureDelays.Figures(received[l.Site.Id]));
        Silent = [.. (await silent.FindAsync(Statuses, ct)).Where(s => viewer.MaySee(s.Id))];
    }

    private async Task<IReadOnlyList<(Site, QualityFinding)>> OpenFindingsAsync(CancellationToken ct)
    {
        var findings = await db.QualityFindings.AsNoTracking().Where(f => f.ResolvedOn == null && f.Subject != QualitySubject.Site)
            .Join(db.Sites, f => f.SiteId, s => s.Id, (f, s) => new { Site = s, Finding = f }).OrderBy(x => x.Site.Name)
                .ThenBy(x => x.Finding.Name).ToListAsync(ct);
        return [.. findings.Where(x => viewer.MaySee(x.Site.Id)).Select(x => (x.Site, x.Finding))];
    }

    private IEnumerable<SiteLine> Order(IEnumerable<SiteLine> lines) => Sort switch
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

    private static string Day(DateOnly day) => day.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);
    private static string? Percent(double? share) => share is { } s ? (s * 100).ToString("0.0", CultureInfo.InvariantCulture) : null;

    /// <summary>Quoted; a leading sign a spreadsheet would take for a formula is made text.</summary>
    internal static string Csv(string text) => $"\"{(text.Length > 0 && "=+-@\t\r".Contains(text[0], StringComparison.Ordinal) ? "'" : "")}{text.Replace("\"", "\"\"", StringComparison.Ordinal)}\"";
}
