using Microsoft.EntityFrameworkCore;
using Registry.Infants.Counting;
using Registry.Platform;
using Registry.Records;
using Registry.Rules;
using Registry.Rules.Quality;

namespace Registry.SiteQuality;

/// <summary>
/// Makes what the nights of a quarter are compared with, once, and keeps it. It is made again when the policy changed, or when a tenth more
/// infants of the year it rests on have become known since. A registry without a year behind it is compared with all it has, anew
/// every night.
/// </summary>
public sealed class KeepPlans(IServiceScopeFactory scopes, ReadCells read, CountScreens count, ProgramClock clock)
{
    private const int Year = 365;

    /// <summary>Fewer in the year before make no plan to keep. Own choice.</summary>
    private const int FewestInfants = 500;

    /// <param name="watchedFrom">The first day that is watched.</param>
    /// <param name="policy">In force.</param>
    /// <param name="ct">Cancels.</param>
    /// <returns>The plan, and the cells of the days that are watched, read once.</returns>
    public async Task<(WatchPlan Plan, IReadOnlyList<QualityCell> Watched)> ForAsync(
        DateOnly watchedFrom, Policy policy, CancellationToken ct)
    {
        var (before, yesterday) = (watchedFrom.AddDays(-Year), watchedFrom.AddDays(-1));
        var year = await count.ByAsync(
            ScreenGrouping.Site, new(new(before, yesterday), CountedDay.Test, null, null, policy), ct);
        var infants = year.Sum(s => s[ScreenFigure.Infants]);
        await using var scope = scopes.CreateAsyncScope();
        var db = scope.ServiceProvider.GetRequiredService<RegistryDb>();
        var kept = await db.QualityPlans.AsNoTracking().Where(p => p.WatchedFrom == watchedFrom && p.PolicyVersion == policy.Version)
            .OrderByDescending(p => p.MadeAt).FirstOrDefaultAsync(ct);
        if (kept is not null && 10 * infants <= 11 * kept.Infants) return (kept.Read(), await read.SinceAsync(watchedFrom, policy, ct));

        var cells = await read.SinceAsync(before, policy, ct);
        List<QualityCell> watched = [.. cells.Where(c => c.Day >= watchedFrom)];
        if (infants < FewestInfants) return (PlanWatch.From(cells, policy, watchedFrom.DayNumber), watched);
        var plan = PlanWatch.From([.. cells.Where(c => c.Day < watchedFrom)], policy, watchedFrom.DayNumber, LastYear(cells));
        db.QualityPlans.Add(new()
        {
            Id = Guid.CreateVersion7(),
            WatchedFrom = watchedFrom,
            PolicyVersion = policy.Version,
            MadeAt = clock.Now,
            Infants = infants,
            Document = QualityPlan.Write(plan),
        });
        await db.SaveChangesAsync(ct);
        return (plan, watched);
    }

    /// <summary>Which units there are, and how busy: of the last year, since a probe bought in spring is not in the year before.</summary>
    private static List<QualityCell> LastYear(IReadOnlyList<QualityCell> cells)
    {
        var last = cells.Max(c => c.Day);
        return [.. cells.Where(c => c.Day > last.AddDays(-Year))];
    }
}
