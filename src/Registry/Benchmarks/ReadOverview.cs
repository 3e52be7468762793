using Registry.Access;
using Registry.Infants.List;
using Registry.Infants.Statuses;
using Registry.PolicyVersions;
using Registry.Rules;
using Registry.SiteQuality;

namespace Registry.Benchmarks;

/// <summary>1-3-6 over a birth period, and what needs attention, of the infants and sites a viewer sees.</summary>
public sealed record Overview(
    StatusesAsOf Statuses, Policy Policy, IReadOnlyList<MilestoneCounts> Milestones, IReadOnlyList<MonthShare> Months,
    Attention Attention, IReadOnlyList<SiteRhythm> Silent);

/// <summary>Counts what the overview shows, as of a day.</summary>
public sealed class ReadOverview(
    StatusSource source, PolicyStore policies, CountMilestones count, SilentSites silent, Viewer viewer)
{
    public async Task<Overview> AsOfAsync(DateOnly asOf, InfantFilter filter, CancellationToken ct)
    {
        var statuses = await source.AsOfAsync(asOf, ct);
        var months = await count.ByMonthAsync(statuses, filter, viewer, ct);
        return new(
            statuses,
            await policies.InForceAsync(asOf, ct),
            MilestoneCounts.Of(months),
            MonthShare.Of(months),
            await count.AttentionAsync(statuses, viewer, ct),
            [.. (await silent.FindAsync(asOf, ct)).Where(s => viewer.MaySee(s.Id))]);
    }
}
