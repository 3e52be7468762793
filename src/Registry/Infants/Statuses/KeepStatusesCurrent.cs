using Hangfire;
using Npgsql;
using Registry.Infants.Counting;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Platform.Jobs;
using Registry.PolicyVersions;

namespace Registry.Infants.Statuses;

/// <summary>
/// The jobs that keep stored statuses true. Each is idempotent: it recomputes from facts, and a second run changes nothing.
/// Intake recomputes what a submission touched in the submission's own transactions; these follow the calendar and the policy.
/// </summary>
/// <remarks>Queue <c>default</c>, one at a time, three retries. The sweep runs nightly just after local midnight and at start.</remarks>
public sealed class KeepStatusesCurrent(
    NpgsqlDataSource source, PolicyStore policies, ProgramClock clock, KeepSnapshots snapshots, ILogger<KeepStatusesCurrent> log)
{
    /// <summary>Recomputes only the infants whose status the calendar changed since they were last computed; everyone, on the day a
    /// new policy comes into force.</summary>
    [OneAtATime]
    [AutomaticRetry(Attempts = 3)]
    public async Task<string> SweepCalendarAsync(CancellationToken ct)
    {
        var today = clock.Today;
        var policy = await policies.InForceAsync(today, ct);
        var otherPolicy = await IsUnderOtherPolicyAsync(policy.Version, ct);
        if (otherPolicy) await CountScreening.ForAllAsync(source, today, policy, ct);
        var changed = otherPolicy
            ? await RecomputeStatuses.ForAllAsync(source, today, policy, ct)
            : await RecomputeStatuses.ForCalendarAsync(source, today, policy, ct);
        log.LogInformation("Calendar sweep for {Day}: {Count} infants recomputed", today, changed);
        return $"{changed} infants recomputed";
    }

    /// <summary>Recomputes everyone under the policy in force today: after a policy change, or to prove that nothing drifted.</summary>
    [OneAtATime]
    [AutomaticRetry(Attempts = 3)]
    public async Task<string> RecomputeAllAsync(CancellationToken ct)
    {
        var today = clock.Today;
        var count = await RecomputeStatuses.ForAllAsync(source, today, await policies.InForceAsync(today, ct), ct);
        await using var connection = await source.OpenConnectionAsync(ct);
        var differed = await InTransaction.RunAsync(connection, token => CountWork.CorrectAsync(connection, token), ct);
        log.LogInformation("Full recompute for {Day}: {Count} infants; {Differed} counts of work differed", today, count, differed);
        return $"{count} infants recomputed";
    }

    /// <summary>Counts anew what changed since it was counted, and puts counts of work together.</summary>
    [OneAtATime]
    [AutomaticRetry(Attempts = 3)]
    public async Task<string> CountAsync(CancellationToken ct)
    {
        await using var connection = await source.OpenConnectionAsync(ct);
        var counted = await InTransaction.RunAsync(connection, token => CountStatuses.RunAsync(connection, clock.Today, token), ct);
        await InTransaction.RunAsync(connection, token => CountWork.FoldAsync(connection, token), ct);
        return $"{counted} days of births at sites counted anew";
    }

    /// <summary>Drops as-of snapshots nobody used for a week.</summary>
    public Task PruneSnapshotsAsync(CancellationToken ct) => snapshots.PruneAsync(ct);

    /// <summary>A policy came into force since statuses were computed.</summary>
    private async Task<bool> IsUnderOtherPolicyAsync(string version, CancellationToken ct)
    {
        await using var command = source.CreateCommand("select exists (select from infant_status where policy_version <> $1)");
        command.Parameters.AddWithValue(version);
        return (bool)(await command.ExecuteScalarAsync(ct))!;
    }
}
