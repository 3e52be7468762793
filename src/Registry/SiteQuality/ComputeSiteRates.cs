using Hangfire;
using Microsoft.EntityFrameworkCore;
using Registry.Platform;
using Registry.Platform.Jobs;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Rules;
using Registry.Rules.Quality;
using Registry.SiteQuality.Flags;

namespace Registry.SiteQuality;

/// <summary>What a night compares with.</summary>
/// <param name="Plan">Case mix and thresholds.</param>
/// <param name="WatchedFrom">The first day that is watched.</param>
/// <param name="Policy">In force.</param>
/// <param name="Sites">By code.</param>
public sealed record NightlyPlan(WatchPlan Plan, DateOnly WatchedFrom, Policy Policy, IReadOnlyDictionary<string, SiteId> Sites);

/// <summary>
/// Nightly: first sessions of every site, instrument, probe and screener are watched for a change, each by what such infants let expect
/// (<see cref="WatchRegion"/>). The case mix is fitted on the year before the year that is watched, and anew every quarter
/// (<see cref="KeepPlans"/>). What was raised stands in <c>quality_findings</c> with the evidence of that night until somebody closes it;
/// evidence is then collected anew.
/// </summary>
/// <remarks>Queue <c>default</c>, nightly and at start, one at a time, three retries; a second run on a day changes nothing.</remarks>
public sealed class ComputeSiteRates(
    IServiceScopeFactory scopes, KeepPlans plans, KeepComparisons comparisons, CountKeptBack keptBack, PolicyStore policies,
    ProgramClock clock)
{
    private const int Year = 365;

    [OneAtATime]
    [AutomaticRetry(Attempts = 3)]
    public async Task<string> RunAsync(CancellationToken ct)
    {
        var today = clock.Today;
        var policy = await policies.InForceAsync(today, ct);
        var watchedFrom = WatchedFrom(today);
        var (plan, watched) = await plans.ForAsync(watchedFrom, policy, ct);

        await using var scope = scopes.CreateAsyncScope();
        var db = scope.ServiceProvider.GetRequiredService<RegistryDb>();
        var sites = await db.Sites.AsNoTracking().ToDictionaryAsync(s => s.Code, s => s.Id, ct);
        var flags = await db.QualityFindings.Where(f => f.ClosedOn == null || f.ClosedOn >= watchedFrom).ToListAsync(ct);
        var (raised, gone) = Night(new(plan, watchedFrom, policy, sites), watched, flags, today);
        db.QualityFindings.AddRange(raised);
        await db.SaveChangesAsync(ct);
        await keptBack.RunAsync(ct);
        await comparisons.RunAsync(plan, watched, sites, policy, ct);
        var standing = raised.Count + flags.Count(f => f is { ClosedOn: null, ResolvedOn: null });
        return $"{standing} standing problems, {raised.Count} new, {gone} no longer";
    }

    /// <summary>What one night raises, and how many open flags it did not find; what it found is noted in those that stand.</summary>
    /// <param name="with">What it compares with.</param>
    /// <param name="watched">First sessions and rescreens of the days watched, as known that night.</param>
    /// <param name="flags">Open ones, and those closed in these days.</param>
    /// <param name="today">The night's day.</param>
    public static (IReadOnlyList<QualityFinding> Raised, int Gone) Night(
        NightlyPlan with, IEnumerable<QualityCell> watched, IReadOnlyCollection<QualityFinding> flags, DateOnly today)
    {
        var codes = with.Sites.ToDictionary(s => s.Value, s => s.Key);
        var closed = flags.Where(f => f.ClosedOn != null).Select(f => new ClosedCase(
            codes[f.SiteId], f.Measure, f.Above, new(f.FoundCause, f.FoundName), f.ClosedOn!.Value)).ToList();
        var found = WatchRegion.Over(with.Plan, watched, closed, with.Policy).Where(f => f.ClosedOn is null || f.ExplainedBy is not null)
            .Select(f => Finding(f, with, today)).ToList();
        return RaiseFlags.Of(flags, found, today);
    }

    /// <summary>The first day that is looked at on a day: the same for a whole quarter.</summary>
    public static DateOnly WatchedFrom(DateOnly today) => new DateOnly(today.Year, ((today.Month - 1) / 3 * 3) + 1, 1).AddDays(-Year);

    /// <summary>As a night of its own would have raised it, with what it is named by now beside it.</summary>
    private static QualityFinding Finding(UnitFinding found, NightlyPlan with, DateOnly today)
    {
        var (raised, now) = (FlagNaming.Of(today, found.Named[0].Cause), FlagNaming.Of(today, found.Cause) with
        {
            Also = found.AlsoMeasures,
            Shadows = [.. found.Shadows.Select(CauseFactor.Of).Where(p => p != found.Cause.Factor)],
            ExplainedBy = found.ExplainedBy,
        });
        return new()
        {
            Id = Guid.CreateVersion7(),
            SiteId = with.Sites[found.Site],
            Cause = raised.Part.Kind,
            Name = raised.Part.Code,
            Measure = found.Measure,
            Above = found.Above,
            FoundOn = found.RaisedOn,
            RecordedOn = today,
            AsOf = today,
            OnsetOn = raised.OnsetOn,
            OnsetFirst = raised.OnsetFirst,
            OnsetLast = raised.OnsetLast,
            Denominator = found.Trials,
            Numerator = found.Observed,
            Expected = found.Expected,
            Sure = raised.Sure ?? 0,
            Explained = found.Explained?.Value,
            ExplainedLeast = found.Explained?.Lower,
            ExplainedMost = found.Explained?.Upper,
            FoundCause = now.Part.Kind,
            FoundName = now.Part.Code,
            Namings = raised.Part == now.Part ? [now] : [raised, now],
            PolicyVersion = with.Policy.Version,
            WatchedFrom = with.WatchedFrom,
        };
    }
}
