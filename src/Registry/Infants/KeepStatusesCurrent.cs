using Hangfire;
using Npgsql;
using Registry.Platform;
using Registry.PolicyVersions;

namespace Registry.Infants;

/// <summary>
/// The jobs that keep stored statuses true. Each is idempotent: it recomputes from facts, and a second run changes nothing.
/// Intake recomputes what a submission touched in the submission's own transactions; these follow the calendar and the policy.
/// </summary>
/// <remarks>Queue <c>default</c>, one at a time, three retries. The sweep runs nightly just after local midnight and at start.</remarks>
public sealed class KeepStatusesCurrent(
    NpgsqlDataSource source, PolicyStore policies, ProgramClock clock, StatusSource snapshots, ILogger<KeepStatusesCurrent> log)
{
    /// <summary>Recomputes only the infants whose status the calendar changed since they were last computed.</summary>
    [DisableConcurrentExecution(3600)]
    [AutomaticRetry(Attempts = 3)]
    public async Task SweepCalendarAsync(CancellationToken cancel)
    {
        var today = clock.Today;
        var changed = await RecomputeStatuses.ForCalendarAsync(source, today, await policies.InForceAsync(today, cancel), cancel);
        log.LogInformation("Calendar sweep for {Day}: {Count} infants recomputed", today, changed);
    }

    /// <summary>Recomputes everyone under the policy in force today: after a policy change, or to prove that nothing drifted.</summary>
    [DisableConcurrentExecution(3600)]
    [AutomaticRetry(Attempts = 3)]
    public async Task RecomputeAllAsync(CancellationToken cancel)
    {
        var today = clock.Today;
        var count = await RecomputeStatuses.ForAllAsync(source, today, await policies.InForceAsync(today, cancel), cancel);
        log.LogInformation("Full recompute for {Day}: {Count} infants", today, count);
    }

    /// <summary>Drops as-of snapshots nobody used for a week.</summary>
    public Task PruneSnapshotsAsync(CancellationToken cancel) => snapshots.PruneAsync(cancel);
}
