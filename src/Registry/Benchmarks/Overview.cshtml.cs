using System.Globalization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Infants.List;
using Registry.Infants.Statuses;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Rules;
using Registry.SiteQuality;
using Registry.Ui;

namespace Registry.Benchmarks;

/// <summary>1-3-6 over a birth period, and what needs attention. Shows counts; no person.</summary>
public sealed class OverviewModel(
    StatusSource source, CountMilestones count, SilentSites silent, SiteChoices sites, PolicyStore policies, AsOf asOf, Viewer viewer)
        : PageModel
{
    [FromQuery]
    public string? Period { get; set; }

    public InfantFilter Filter { get; private set; } = new();
    public StatusesAsOf Statuses { get; private set; } = null!;
    public Policy Policy { get; private set; } = null!;
    public IReadOnlyList<MilestoneCounts> Milestones { get; private set; } = [];
    public IReadOnlyList<MonthShare> Months { get; private set; } = [];
    public Attention Attention { get; private set; } = null!;
    public IReadOnlyList<SiteRhythm> Silent { get; private set; } = [];
    public IReadOnlyList<Site> Sites { get; private set; } = [];
    public IReadOnlyList<(string Code, string Word, DateOnly From, DateOnly To)> Presets { get; private set; } = [];
    public DateOnly From { get; private set; }
    public DateOnly To { get; private set; }

    public async Task OnGetAsync(CancellationToken ct)
    {
        Presets = PresetsOf(asOf.Date);
        var asked = InfantFilter.Read(Request.Query);
        var preset = Presets.FirstOrDefault(p => p.Code == Period);
        if (preset.Code is null && (Period is not "own" || (asked.From is null && asked.To is null))) preset = Presets[0];
        Period = preset.Code ?? "own";
        From = preset.Code is null ? asked.From ?? asked.To!.Value.AddYears(-1).AddDays(1) : preset.From;
        To = preset.Code is null ? asked.To ?? asOf.Date : preset.To;
        Filter = new() { From = From, To = To, Site = viewer.IsCoordinator ? asked.Site : null, Problems = asked.Problems };

        Statuses = await source.AsOfAsync(asOf.Date, ct);
        Policy = await policies.InForceAsync(asOf.Date, ct);
        Milestones = await count.ForPeriodAsync(Statuses, Filter, viewer, ct);
        Months = await count.ByMonthAsync(Statuses, Filter, viewer, ct);
        Attention = await count.AttentionAsync(Statuses, viewer, ct);
        Silent = [.. (await silent.FindAsync(Statuses, ct)).Where(s => viewer.MaySee(s.Id))];
        Sites = await sites.AllAsync(ct);
    }

    /// <summary>The rule of a milestone in words: "no later than 1 month".</summary>
    public string Rule(MilestoneKind kind)
    {
        var deadline = kind switch
        {
            MilestoneKind.Screened => Policy.ScreeningDeadline,
            MilestoneKind.Diagnosed => Policy.DiagnosisDeadline,
            _ => Policy.InterventionDeadline,
        };
        var unit = deadline.Unit == DeadlineUnit.Months ? "month" : "day";
        return $"{(deadline.Inclusive ? "no later than" : "before")} {Words.Count(deadline.Amount, unit)} after birth";
    }

    private static List<(string, string, DateOnly, DateOnly)> PresetsOf(DateOnly asOf)
    {
        var presets = new List<(
            string, string, DateOnly, DateOnly)> { ("last-12-months", "Last 12 months", asOf.AddYears(-1).AddDays(1), asOf) };
        var quarter = new DateOnly(asOf.Year, (asOf.Month - 1) / 3 * 3 + 1, 1);
        for (var i = 0; i < 5; i++, quarter = quarter.AddMonths(-3))
        {
            var number = (quarter.Month + 2) / 3;
            presets.Add((string.Create(CultureInfo.InvariantCulture, $"{quarter.Year}-q{number}"),
                string.Create(CultureInfo.InvariantCulture, $"{quarter.Year}, quarter {number}"), quarter, quarter.AddMonths(3)
                    .AddDays(-1)));
        }

        for (var year = asOf.Year; year > asOf.Year - 3; year--)
        {
            presets.Add((year.ToString(CultureInfo.InvariantCulture), $"Born in {year.ToString(CultureInfo.InvariantCulture)}",
                new(year, 1, 1), new(year, 12, 31)));
        }

        return presets;
    }
}
