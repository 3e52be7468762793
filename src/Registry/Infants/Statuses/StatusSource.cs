using Npgsql;
using Registry.Platform;
using Registry.PolicyVersions;

namespace Registry.Infants.Statuses;

/// <summary>The statuses a page or measure reads: which relation to select from, and what to print beside every figure.</summary>
/// <param name="Relation">SQL to put after <c>from</c>; never holds user input.</param>
public sealed record StatusesAsOf(string Relation, DateOnly AsOf, DateTimeOffset KnownAt, string PolicyVersion);

/// <summary>
/// Finds the statuses for an as-of date. Today's are kept in <c>infant_status</c>; for another day they are computed from the
/// facts known by the end of that day, once, and kept as a snapshot: later facts cannot change what was known then.
/// </summary>
public sealed class StatusSource(NpgsqlDataSource source, ProgramClock clock, PolicyStore policies)
{
    public async Task<StatusesAsOf> AsOfAsync(DateOnly asOf, CancellationToken ct)
    {
        var policy = await policies.InForceAsync(asOf, ct);
        if (asOf == clock.Today) return new StatusesAsOf("infant_status", asOf, clock.Now, policy.Version);

        // A day that has not ended is computed from what is known now, and is not kept.
        var known = asOf < clock.Today ? clock.EndOf(asOf) : clock.Now;
        var id = await FindAsync(asOf, known, policy.Version, ct) ?? await ComputeAsync(asOf, known, policy, ct);
        return new StatusesAsOf($"(select * from infant_status_snapshot where snapshot_id = '{id}')", asOf, known, policy.Version);
    }

    private async Task<Guid?> FindAsync(DateOnly asOf, DateTimeOffset known, string policyVersion, CancellationToken ct)
    {
        await using var command = source.CreateCommand(
            "update status_snapshots set used_at = $4 where as_of = $1 and known_at = $2 and policy_version = $3 and complete "
            + "returning id");
        command.Parameters.AddWithValue(asOf);
        command.Parameters.AddWithValue(known);
        command.Parameters.AddWithValue(policyVersion);
        command.Parameters.AddWithValue(clock.Now);
        return (Guid?)await command.ExecuteScalarAsync(ct);
    }

    private async Task<Guid> ComputeAsync(DateOnly asOf, DateTimeOffset known, Rules.Policy policy, CancellationToken ct)
    {
        var id = Guid.CreateVersion7();
        await using var connection = await source.OpenConnectionAsync(ct);
        await using var transaction = await connection.BeginTransactionAsync(ct);
        await foreach (var infants in WalkInfants.KnownAtAsync(connection, known, ct))
            await StoreStatuses.AppendToSnapshotAsync(
                connection, id, RecomputeStatuses.Evaluate(infants, policy, asOf), policy.Version, asOf, ct);
        await using var insert = new NpgsqlCommand(
            "insert into status_snapshots (id, as_of, known_at, policy_version, computed_at, used_at, complete) "
            + "values ($1, $2, $3, $4, $5, $5, true)", connection);
        insert.Parameters.AddWithValue(id);
        insert.Parameters.AddWithValue(asOf);
        insert.Parameters.AddWithValue(known);
        insert.Parameters.AddWithValue(policy.Version);
        insert.Parameters.AddWithValue(clock.Now);
        await insert.ExecuteNonQueryAsync(ct);
        await transaction.CommitAsync(ct);
        return id;
    }

    /// <summary>Drops snapshots nobody used for a week. They can be computed again at any time.</summary>
    public async Task PruneAsync(CancellationToken ct)
    {
        await using var command = source.CreateCommand(
            "with old as (delete from status_snapshots where used_at < $1 returning id) "
            + "delete from infant_status_snapshot where snapshot_id in (select id from old)");
        command.Parameters.AddWithValue(clock.Now.AddDays(-7));
        await command.ExecuteNonQueryAsync(ct);
    }
}
