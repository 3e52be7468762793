using Microsoft.EntityFrameworkCore;
using Registry.Infants.Counting;
using Registry.Platform;
using Registry.PolicyVersions;
using Registry.Records;

namespace Registry.SiteQuality;

/// <summary>Nightly: how many tests of each site's last year its own sendings passed by, so that a page need not read every site's to know
/// whether most are alike.</summary>
/// <remarks>Queue <c>default</c>, nightly and at start, within <see cref="ComputeSiteRates"/>; a second run on a day changes
/// nothing.</remarks>
public sealed class CountKeptBack(IServiceScopeFactory scopes, MeasureDelays measure, PolicyStore policies, ProgramClock clock)
{
    public async Task RunAsync(CancellationToken ct)
    {
        var today = clock.Today;
        var policy = await policies.InForceAsync(today, ct);
        var year = new ScreensAsked(new(today.AddYears(-1).AddDays(1), today), CountedDay.Test, null, null, policy);
        var counted = (await measure.RunAsync(year, 0, ct)).GroupBy(t => t.SiteId)
            .Select(site => (Id: site.Key, Figures: MeasureDelays.Figures(site, site, policy)))
            .Select(s => new KeptBack
            {
                SiteId = s.Id,
                AsOf = today,
                Tests = s.Figures.Tests,
                PassedBy = (int)s.Figures.Skipped.Numerator,
                InBursts = s.Figures.Bursts.Sum(b => b.Tests),
            }).ToList();
        await using var scope = scopes.CreateAsyncScope();
        var db = scope.ServiceProvider.GetRequiredService<RegistryDb>();
        await using var transaction = await db.Database.BeginTransactionAsync(ct);
        await db.KeptBack.ExecuteDeleteAsync(ct);
        db.KeptBack.AddRange(counted);
        await db.SaveChangesAsync(ct);
        await transaction.CommitAsync(ct);
    }
}
