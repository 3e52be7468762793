using Hangfire;
using Microsoft.EntityFrameworkCore;
using Registry.Infants.Counting;
using Registry.Platform;
using Registry.Platform.Jobs;
using Registry.Records;
using Registry.Rules.Quality;

namespace Registry.SiteQuality;

/// <summary>
/// Nightly: rates of the last ninety days for every site, and for the instruments and probes of every site; those too high for chance are
/// kept in <c>quality_findings</c> from the day they were found to the day they were no longer. Sites are compared with the region;
/// instruments and probes with all instruments and probes of the region, together, so that the false discovery rate holds over all.
/// </summary>
/// <remarks>Queue <c>default</c>, nightly and at start, one at a time, three retries; a second run on a day changes nothing.</remarks>
public sealed class ComputeSiteRates(IServiceScopeFactory scopes, CountScreens count, ProgramClock clock)
{
    public const int Days = 90;

    [OneAtATime]
    [AutomaticRetry(Attempts = 3)]
    public async Task<string> RunAsync(CancellationToken ct)
    {
        await using var scope = scopes.CreateAsyncScope();
        var db = scope.ServiceProvider.GetRequiredService<RegistryDb>();
        var today = clock.Today;
        var ask = scope.ServiceProvider.GetRequiredService<AskScreens>();
        var asked = await ask.AsOfAsync(new(today.AddDays(1 - Days), today), CountedDay.Test, null, today, ct);
        var sites = await db.Sites.AsNoTracking().ToDictionaryAsync(s => s.Id, ct);
        List<QualityFinding> found = [];
        foreach (var (grouping, subject) in new[]
        {
            (ScreenGrouping.Site, QualitySubject.Site), (ScreenGrouping.Instrument, QualitySubject.Instrument),
            (ScreenGrouping.Probe, QualitySubject.Probe),
        })
        {
            var counts = (await count.ByAsync(grouping, asked, ct)).Where(c => subject == QualitySubject.Site || c.Unit.Length > 0);
            found.AddRange(CompareUnits.Compare([.. counts], sites).SelectMany(l => HighRates(l, subject, today)));
        }

        var (opened, resolved) = await StoreAsync(db, found, today, ct);
        return $"{found.Count} rates higher than chance explains, {opened} new, {resolved} no longer";
    }

    private static IEnumerable<QualityFinding> HighRates(UnitLine line, QualitySubject subject, DateOnly today)
    {
        var isSite = subject == QualitySubject.Site;
        if ((isSite ? line.Refer : line.FirstRefer) is { High: true } refer)
            yield return Finding(QualityMeasure.Refer, isSite ? SiteWords.Referred : SiteWords.FirstReferred, refer);
        if (line.Invalid.High) yield return Finding(QualityMeasure.Invalid, SiteWords.WithoutResult, line.Invalid);

        QualityFinding Finding(QualityMeasure measure, string what, RateComparison rate) => new()
        {
            Id = Guid.CreateVersion7(),
            SiteId = line.Site.Id,
            Subject = subject,
            Name = line.Counts.Unit,
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
