using Microsoft.EntityFrameworkCore;
using Registry.Platform;
using Registry.Records;
using Registry.Rules.Quality;

namespace Registry.SiteQuality;

/// <summary>A kept plan, as the list names it.</summary>
public sealed record MadePlan(Guid Id, DateOnly WatchedFrom, string PolicyVersion, DateTimeOffset MadeAt, int Infants);

/// <summary>What is expected of infants, and how much units ordinarily differ.</summary>
/// <param name="Made">The one shown.</param>
/// <param name="All">Every one kept, the newest first.</param>
public sealed record ShownCaseMix(MadePlan Made, WatchPlan Plan, IReadOnlyList<MadePlan> All);

/// <summary>Shows the coefficients every comparison and flag rests on, as they were kept (<see cref="KeepPlans"/>).</summary>
public sealed class ShowCaseMix(RegistryDb db, ProgramClock clock)
{
    /// <param name="plan">Null: the last made.</param>
    /// <param name="day">Made by the end of it.</param>
    /// <param name="ct">Cancels.</param>
    /// <returns>Null where there is none: a registry without a year behind it fits anew every night.</returns>
    public async Task<ShownCaseMix?> AsOfAsync(Guid? plan, DateOnly day, CancellationToken ct)
    {
        var end = clock.EndOf(day);
        var all = await db.QualityPlans.AsNoTracking().Where(p => p.MadeAt < end).OrderByDescending(p => p.MadeAt)
            .Select(p => new MadePlan(p.Id, p.WatchedFrom, p.PolicyVersion, p.MadeAt, p.Infants)).ToListAsync(ct);
        if (all.FirstOrDefault(p => plan is null || p.Id == plan) is not { } made) return null;
        return new(made, (await db.QualityPlans.AsNoTracking().SingleAsync(p => p.Id == made.Id, ct)).Read(), all);
    }
}
