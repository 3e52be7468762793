using System.Collections.Concurrent;
using Microsoft.Extensions.Options;
using Npgsql;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Rules;

namespace Registry.Infants.Statuses;

/// <summary>A past day's statuses as they were known at its end.</summary>
internal readonly record struct PastDay(DateOnly AsOf, DateTimeOffset KnownAt, string PolicyVersion);

/// <summary>
/// The statuses of past days, computed from everyone's facts once a day asked for and kept while somebody looks at it. Who asks for a day
/// that is being computed waits for the same computation; one day is computed at a time, whichever process was asked; what is kept stays
/// within a number of rows.
/// </summary>
public sealed class KeepSnapshots(
    NpgsqlDataSource source, ProgramClock clock, IOptions<InfantsOptions> options, IHostApplicationLifetime life) : IDisposable
{
    /// <summary>A page that was given a day reads it within this time.</summary>
    private static readonly TimeSpan InUse = TimeSpan.FromMinutes(15);

    private static readonly string MakeRoomSql = EmbeddedSql.Of<KeepSnapshots>("MakeRoom");

    private readonly ConcurrentDictionary<PastDay, Lazy<Task<Guid>>> _running = new();
    private readonly SemaphoreSlim _turn = new(1);

    /// <summary>The day's snapshot, if it is kept; it stays for a while then.</summary>
    internal async Task<Guid?> FindAsync(PastDay day, CancellationToken ct)
    {
        await using var command = source.CreateCommand(
            "update status_snapshots set used_at = $4 where as_of = $1 and known_at = $2 and policy_version = $3 and complete "
            + "returning id");
        command.Parameters.AddWithValue(day.AsOf);
        command.Parameters.AddWithValue(day.KnownAt);
        command.Parameters.AddWithValue(day.PolicyVersion);
        command.Parameters.AddWithValue(clock.Now);
        return (Guid?)await command.ExecuteScalarAsync(ct);
    }

    /// <summary>Computes it, or waits for whoever does. Who gives up waiting stops nobody else's.</summary>
    internal Task<Guid> ComputeAsync(PastDay day, Policy policy, CancellationToken ct) =>
        _running.GetOrAdd(day, _ => new(() => Task.Run(() => ComputeOnceAsync(day, policy, life.ApplicationStopping)))).Value.WaitAsync(ct);

    private async Task<Guid> ComputeOnceAsync(PastDay day, Policy policy, CancellationToken ct)
    {
        await _turn.WaitAsync(ct);
        try
        {
            await using var connection = await source.OpenConnectionAsync(ct);
            await using var transaction = await connection.BeginTransactionAsync(ct);
            await AdvisoryLock.ForTransactionAsync(connection, LockedThing.Snapshot, "", ct);
            // Another process may have computed it meanwhile.
            if (await FindAsync(day, ct) is { } made) return made;
            await MakeRoomAsync(ct);
            var id = Guid.CreateVersion7();
            var rows = 0;
            await foreach (var infants in WalkInfants.KnownAtAsync(connection, day.KnownAt, null, ct))
            {
                var statuses = RecomputeStatuses.Evaluate(infants, policy, day.AsOf).ToList();
                await StoreStatuses.AppendToSnapshotAsync(connection, id, statuses, day.PolicyVersion, day.AsOf, ct);
                rows += statuses.Count;
            }

            await RecordAsync(connection, id, day, rows, ct);
            await transaction.CommitAsync(ct);
            return id;
        }
        finally
        {
            _running.TryRemove(day, out _);
            _turn.Release();
        }
    }

    /// <summary>On a connection of its own: who looks for a day meanwhile must not wait for the computation.</summary>
    private async Task MakeRoomAsync(CancellationToken ct)
    {
        await using var connection = await source.OpenConnectionAsync(ct);
        await using var count = new NpgsqlCommand("select count(*) from infants", connection);
        var coming = (long)(await count.ExecuteScalarAsync(ct))!;
        await using var drop = new NpgsqlCommand(MakeRoomSql, connection);
        drop.Parameters.AddWithValue(coming);
        drop.Parameters.AddWithValue(options.Value.SnapshotRows);
        drop.Parameters.AddWithValue(clock.Now - InUse);
        var kept = (long)(await drop.ExecuteScalarAsync(ct))!;
        if (kept > 0 && kept + coming > options.Value.SnapshotRows) throw SnapshotWords.NoRoom(InUse);
    }

    private async Task RecordAsync(NpgsqlConnection connection, Guid id, PastDay day, long rows, CancellationToken ct)
    {
        await using var insert = new NpgsqlCommand(
            "insert into status_snapshots (id, as_of, known_at, policy_version, computed_at, used_at, complete, rows) "
            + "values ($1, $2, $3, $4, $5, $5, true, $6)", connection);
        insert.Parameters.AddWithValue(id);
        insert.Parameters.AddWithValue(day.AsOf);
        insert.Parameters.AddWithValue(day.KnownAt);
        insert.Parameters.AddWithValue(day.PolicyVersion);
        insert.Parameters.AddWithValue(clock.Now);
        insert.Parameters.AddWithValue(rows);
        await insert.ExecuteNonQueryAsync(ct);
    }

    /// <summary>Drops days nobody looked at for a week. They can be computed again at any time.</summary>
    public async Task PruneAsync(CancellationToken ct)
    {
        await using var command = source.CreateCommand(
            "with old as (delete from status_snapshots where used_at < $1 returning id) "
            + "delete from infant_status_snapshot where snapshot_id in (select id from old)");
        command.Parameters.AddWithValue(clock.Now.AddDays(-7));
        await command.ExecuteNonQueryAsync(ct);
    }

    public void Dispose() => _turn.Dispose();
}
