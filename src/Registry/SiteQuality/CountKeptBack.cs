using Microsoft.EntityFrameworkCore;
using Registry.Infants.Counting;
using Registry.Platform;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Rules.Quality;

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

/// <summary>Whose results kept back, and whose bursts, are a mark of the site, and whether most sites carry it.</summary>
/// <param name="AsOf">The night that is judged; null: none yet, or a past day, of which sites are not compared.</param>
public sealed record KeptBackMarks(DateOnly? AsOf, StandingMarks KeptBack, StandingMarks Bursts)
{
    public static readonly KeptBackMarks None =
        new(null, new(false, new HashSet<string>()), new(false, new HashSet<string>()));
}

/// <summary>Judges what the last night counted by the rule of all marks (<see cref="CommonMarks"/>).</summary>
public static class ReadKeptBack
{
    public static async Task<KeptBackMarks> StandsAsync(RegistryDb db, ScreensAsked asked, CancellationToken ct)
    {
        if (asked.AsOf is not null) return KeptBackMarks.None;
        var counted = await db.KeptBack.AsNoTracking()
            .Join(db.Sites, k => k.SiteId, s => s.Id, (k, s) => new { s.Code, Counted = k }).ToListAsync(ct);
        return counted.Count == 0 ? KeptBackMarks.None : new(
            counted.Max(c => c.Counted.AsOf),
            CommonMarks.Of([.. counted.Select(c => new MarkedUnit(
                c.Code, DescribeDelays.SkipsSendings(c.Counted.PassedByShare, asked.Policy), c.Counted.PassedByShare.Rate ?? 0))],
                asked.Policy),
            CommonMarks.Of([.. counted.Select(c => new MarkedUnit(
                c.Code, DescribeDelays.SendsInBursts(c.Counted.BurstShare, asked.Policy), c.Counted.BurstShare.Rate ?? 0))],
                asked.Policy));
    }
}
