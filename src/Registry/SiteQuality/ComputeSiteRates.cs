using Hangfire;
using Microsoft.EntityFrameworkCore;
using Registry.Infants.Statuses;
using Registry.Platform;
using Registry.Platform.Jobs;
using Registry.PolicyVersions;
using Registry.Records;
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
        await using var scope = scopes.CreateAsyncScope();
        var db = scope.ServiceProvider.GetRequiredService<RegistryDb>();
        var today = clock.Today;
        var asked = new ScreensAsked(new(today.AddDays(1 - Days), today), null, await statuses.AsOfAsync(today, ct),
            await policies.InForceAsync(today, ct));
        var sites = await compare.RunAsync(db, asked, ct);
        List<QualityFinding> found =
        [
            .. sites.SelectMany(s => HighRates(s.Site.Id, QualitySubject.Site, "", SiteWords.Referred, s.Refer, s.Invalid, today)),
            .. await UnitsAsync(sites, ScreenGrouping.Instrument, QualitySubject.Instrument, asked, ct),
            .. await UnitsAsync(sites, ScreenGrouping.Probe, QualitySubject.Probe, asked, ct),
        ];
        var (opened, resolved) = await StoreAsync(db, found, today, ct);
        return $"{sites.Count} sites, {found.Count} rates higher than chance explains, {opened} new, {resolved} no longer";
    }

    /// <summary>The instruments, or the probes, of all sites, each against all of them.</summary>
    private async Task<List<QualityFinding>> UnitsAsync(
        IReadOnlyList<SiteLine> sites, ScreenGrouping grouping, QualitySubject subject, ScreensAsked asked, CancellationToken ct)
    {
        var units = new List<(SiteId Site, ScreenCounts Counts)>();
        foreach (var site in sites.Select(s => s.Site.Id))
            units.AddRange((await count.ByAsync(grouping, asked with { Site = site }, ct)).Where(c => c.Unit.Length > 0)
                .Select(c => (site, c)));
        var refer = FlagHighRates.Compare([.. units.Select(u => u.Counts.EarRefer)]);
        var invalid = FlagHighRates.Compare([.. units.Select(u => u.Counts.InvalidTests)]);
        return [.. units.SelectMany((u, i) =>
            HighRates(u.Site, subject, u.Counts.Unit, SiteWords.EarReferred, refer[i], invalid[i], asked.Period.To))];
    }

    private static IEnumerable<QualityFinding> HighRates(
        SiteId site, QualitySubject subject, string name, string referred, RateComparison refer, RateComparison invalid, DateOnly today)
    {
        if (refer.High) yield return Finding(QualityMeasure.Refer, referred, refer);
        if (invalid.High) yield return Finding(QualityMeasure.Invalid, SiteWords.WithoutResult, invalid);

        QualityFinding Finding(QualityMeasure measure, string what, RateComparison rate) => new()
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
            Evidence = SiteWords.Evidence(what, rate),
        };
    }

    private static async Task<(int Opened, int Resolved)> StoreAsync(
        RegistryDb db, List<QualityFinding> found, DateOnly today, CancellationToken ct)
    {
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
