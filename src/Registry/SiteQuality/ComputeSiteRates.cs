using Hangfire;
using Microsoft.EntityFrameworkCore;
using Registry.Platform;
using Registry.Platform.Jobs;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Rules.Quality;
using Registry.SiteQuality.Flags;

namespace Registry.SiteQuality;

/// <summary>
/// Nightly: first sessions of every site, instrument, probe and screener are watched for a change, each by what such infants let expect
/// (<see cref="WatchRegion"/>). The case mix is fitted on the year before the year that is watched, and anew every quarter
/// (<see cref="KeepPlans"/>). What was raised stands in <c>quality_findings</c> with the evidence of that night until somebody closes it;
/// evidence is then collected anew.
/// </summary>
/// <remarks>Queue <c>default</c>, nightly and at start, one at a time, three retries; a second run on a day changes nothing.</remarks>
public sealed class ComputeSiteRates(
    IServiceScopeFactory scopes, KeepPlans plans, CountKeptBack keptBack, PolicyStore policies, ProgramClock clock)
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
        var codes = sites.ToDictionary(s => s.Value, s => s.Key);
        var closed = flags.Where(f => f.ClosedOn != null).Select(f => new ClosedCase(
            codes[f.SiteId], f.Measure, new(f.FoundCause, f.FoundName), f.ClosedOn!.Value)).ToList();
        var found = WatchRegion.Over(plan, watched, closed, policy).Where(f => f.ClosedOn is null)
            .Select(f => Finding(f, sites[f.Site], policy.Version, watchedFrom, today)).ToList();
        var (raised, gone) = RaiseFlags.Of(flags, found, today);
        db.QualityFindings.AddRange(raised);
        await db.SaveChangesAsync(ct);
        await keptBack.RunAsync(ct);
        var standing = raised.Count + flags.Count(f => f is { ClosedOn: null, ResolvedOn: null });
        return $"{standing} standing problems, {raised.Count} new, {gone} no longer";
    }

    /// <summary>The first day that is looked at on a day: the same for a whole quarter.</summary>
    public static DateOnly WatchedFrom(DateOnly today) => new DateOnly(today.Year, ((today.Month - 1) / 3 * 3) + 1, 1).AddDays(-Year);

    private static QualityFinding Finding(UnitFinding found, SiteId site, string policy, DateOnly watchedFrom, DateOnly today) => new()
    {
        Id = Guid.CreateVersion7(),
        SiteId = site,
        Cause = found.Cause.Factor.Kind,
        Name = found.Cause.Factor.Code,
        Measure = found.Measure,
        Above = found.Above,
        FoundOn = found.RaisedOn,
        AsOf = today,
        OnsetOn = found.Onset,
        OnsetFirst = found.OnsetFirst,
        OnsetLast = found.OnsetLast,
        Denominator = found.Trials,
        Numerator = found.Observed,
        Expected = found.Expected,
        Sure = found.Cause.Sure,
        Explained = found.Explained?.Value,
        ExplainedLeast = found.Explained?.Lower,
        ExplainedMost = found.Explained?.Upper,
        FoundCause = found.Cause.Factor.Kind,
        FoundName = found.Cause.Factor.Code,
        PolicyVersion = policy,
        WatchedFrom = watchedFrom,
    };
}
