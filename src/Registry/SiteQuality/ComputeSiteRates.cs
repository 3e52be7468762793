using Hangfire;
using Microsoft.EntityFrameworkCore;
using Registry.Infants.Statuses;
using Registry.Platform;
using Registry.Platform.Jobs;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Rules;
using Registry.Rules.Quality;

namespace Registry.SiteQuality;

/// <summary>
/// Nightly: rates of the last ninety days for every site, and for the instruments and probes of every site; those too high for chance are
/// kept in <c>quality_findings</c> from the day they were found to the day they were no longer. Sites are compared with the region;
/// instruments and probes with all instruments and probes of the region, together, so that the false discovery rate holds over all.
/// </summary>
/// <remarks>Queue <c>default</c>, nightly and at start, one at a time, three retries; a second run on a day changes nothing.</remarks>
public sealed class ComputeSiteRates(
    IServiceScopeFactory scopes, CountScreens count, CompareSites compare, StatusSource statuses, PolicyStore policies, ProgramClock clock)
{
    public const int Days = 90;

    [OneAtATime]
    [AutomaticRetry(Attempts = 3)]
    public async Task<string> RunAsync(CancellationToken ct)
    {
        var today = clock.Today;
        var asOf = await statuses.AsOfAsync(today, ct);
        var policy = await policies.InForceAsync(today, ct);
        var from = today.AddDays(1 - Days);
        var sites = await compare.RunAsync(from, today, asOf, ct);
        var found = new List<QualityFinding>();
        foreach (var site in sites)
        {
            Add(found, site.Site.Id, QualitySubject.Site, "", QualityMeasure.Refer, "infants referred at discharge", site.Refer, today);
            Add(found, site.Site.Id, QualitySubject.Site, "", QualityMeasure.Invalid, "tests without a valid result", site.Invalid, today);
        }

        await AddUnitsAsync(found, sites, ScreenGrouping.Instrument, QualitySubject.Instrument, from, today, asOf, policy, ct);
        await AddUnitsAsync(found, sites, ScreenGrouping.Probe, QualitySubject.Probe, from, today, asOf, policy, ct);
        var (opened, resolved) = await StoreAsync(found, today, ct);
        return $"{sites.Count} sites, {found.Count} rates higher than chance explains, {opened} new, {resolved} no longer";
    }

    private async Task AddUnitsAsync(
        List<QualityFinding> found, IReadOnlyList<SiteLine> sites, ScreenGrouping grouping, QualitySubject subject, DateOnly from,
        DateOnly to,
        StatusesAsOf asOf, Policy policy, CancellationToken ct)
    {
        var units = new List<(SiteId Site, ScreenCounts Counts)>();
        foreach (var site in sites)
            units.AddRange((await count.ByAsync(grouping, from, to, site.Site.Id, asOf, policy, ct)).Where(c => c.Unit.Length > 0)
                .Select(c => (site.Site.Id, c)));
        var refer = FlagHighRates.Compare([.. units.Select(u => u.Counts.EarRefer)]);
        var invalid = FlagHighRates.Compare([.. units.Select(u => u.Counts.InvalidTests)]);
        for (var i = 0; i < units.Count; i++)
        {
            Add(found, units[i].Site, subject, units[i].Counts.Unit, QualityMeasure.Refer, "valid tests of one ear referred", refer[i], to);
            Add(found, units[i].Site, subject, units[i].Counts.Unit, QualityMeasure.Invalid, "tests without a valid result", invalid[i],
                to);
        }
    }

    private static void Add(
        List<QualityFinding> found, SiteId site, QualitySubject subject, string name, QualityMeasure measure, string what,
        RateComparison rate, DateOnly today)
    {
        if (!rate.High) return;
        found.Add(new QualityFinding
        {
            Id = Guid.CreateVersion7(),
            SiteId = site,
            Subject = subject,
            Name = name,
            Measure = measure,
            FoundOn = today,
            AsOf = today,
            Numerator = (int)rate.Observed.Numerator,
            Denominator = (int)rate.Observed.Denominator,
            Target = rate.Target ?? 0,
            Evidence = SiteLine.Sentence(what, rate),
        });
    }

    private async Task<(int Opened, int Resolved)> StoreAsync(List<QualityFinding> found, DateOnly today, CancellationToken ct)
    {
        await using var scope = scopes.CreateAsyncScope();
        var db = scope.ServiceProvider.GetRequiredService<RegistryDb>();
        var open = await db.QualityFindings.Where(f => f.ResolvedOn == null).ToDictionaryAsync(KeyOf, ct);
        var opened = 0;
        foreach (var finding in found)
        {
            if (open.Remove(KeyOf(finding), out var known))
            {
                (known.AsOf, known.Numerator, known.Denominator, known.Target, known.Evidence) =
                    (today, finding.Numerator, finding.Denominator, finding.Target, finding.Evidence);
            }
            else
            {
                db.QualityFindings.Add(finding);
                opened++;
            }
        }

        foreach (var gone in open.Values) gone.ResolvedOn = today;
        await db.SaveChangesAsync(ct);
        return (opened, open.Count);
    }

    private static (SiteId, QualitySubject, string, QualityMeasure) KeyOf(QualityFinding f) => (f.SiteId, f.Subject, f.Name, f.Measure);
}
