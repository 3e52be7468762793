using Npgsql;
using Registry.Facts;
using Registry.Rules;

namespace Registry.Infants.Statuses;

/// <summary>
/// Recomputes stored statuses from the facts. Idempotent: running it again changes nothing.
/// Callers that just wrote facts run it in their own transaction, so a status is never older than the facts it stands on.
/// </summary>
public static class RecomputeStatuses
{
    private const int ChunkSize = 2_000;
    private const int AtOnce = 4;

    /// <summary>Recomputes the given infants, on the caller's connection and in its transaction.</summary>
    public static async Task ForInfantsAsync(
        NpgsqlConnection connection, IReadOnlyCollection<Guid> infantIds, DateOnly asOf, Policy policy, CancellationToken ct)
    {
        foreach (var chunk in infantIds.Distinct().Order().Chunk(ChunkSize))
        {
            await LockAsync(connection, chunk, ct);
            var statuses = Evaluate(await FactsForRules.KnownAtAsync(connection, chunk, DateTimeOffset.MaxValue, ct), policy, asOf);
            await StoreStatuses.ReplaceAsync(connection, chunk, statuses, policy.Version, asOf, ct);
        }
    }

    /// <summary>Recomputes those whose status the calendar changed by <paramref name="today"/>.</summary>
    /// <returns>How many were recomputed.</returns>
    public static Task<int> ForCalendarAsync(NpgsqlDataSource source, DateOnly today, Policy policy, CancellationToken ct) =>
        InChunksAsync(source,
            "select infant_id from infant_status where next_change_on <= $2 and infant_id > $1 order by infant_id limit $3",
            today, policy, ct);

    /// <summary>Recomputes everyone: after a policy change, or to prove that nothing drifted.</summary>
    public static Task<int> ForAllAsync(NpgsqlDataSource source, DateOnly today, Policy policy, CancellationToken ct) =>
        InChunksAsync(source, "select id from infants where $2::date is not null and id > $1 order by id limit $3", today, policy, ct);

    /// <summary>Pure step: facts in, statuses out. Infants born after <paramref name="asOf"/> have none yet.</summary>
    public static IEnumerable<(KnownInfant Infant, InfantStatus Status)> Evaluate(
        IReadOnlyList<KnownInfant> infants, Policy policy, DateOnly asOf) =>
        infants.Where(i => i.Facts.Birth.Date <= asOf).Select(i => (i, EvaluateInfant.Evaluate(i.Facts, policy, asOf)));

    /// <summary>Chunks in id order, several at a time: while one waits for the database another is evaluated. Each is one
    /// transaction.</summary>
    private static async Task<int> InChunksAsync(
        NpgsqlDataSource source, string nextChunk, DateOnly today, Policy policy, CancellationToken ct)
    {
        var (after, total) = (Guid.Empty, 0);
        using var turn = new SemaphoreSlim(1);
        await Task.WhenAll(Enumerable.Range(0, Math.Clamp(Environment.ProcessorCount, 1, AtOnce)).Select(_ => WorkAsync()));
        return total;

        async Task WorkAsync()
        {
            await using var connection = await source.OpenConnectionAsync(ct);
            while (await NextAsync(connection) is { Length: > 0 } chunk)
            {
                await using var transaction = await connection.BeginTransactionAsync(ct);
                await ForInfantsAsync(connection, chunk, today, policy, ct);
                await transaction.CommitAsync(ct);
                Interlocked.Add(ref total, chunk.Length);
            }
        }

        async Task<Guid[]> NextAsync(NpgsqlConnection connection)
        {
            await turn.WaitAsync(ct);
            try
            {
                var chunk = new List<Guid>(ChunkSize);
                await using var select = new NpgsqlCommand(nextChunk, connection);
                select.Parameters.AddWithValue(after);
                select.Parameters.AddWithValue(today);
                select.Parameters.AddWithValue(ChunkSize);
                await using var reader = await select.ExecuteReaderAsync(ct);
                while (await reader.ReadAsync(ct)) chunk.Add(reader.GetGuid(0));
                if (chunk.Count > 0) after = chunk[^1];
                return [.. chunk];
            }
            finally
            {
                turn.Release();
            }
        }
    }

    /// <summary>Two writers of one infant take turns, in id order. "No key update" lets others still insert facts that refer to
    /// it.</summary>
    private static async Task LockAsync(NpgsqlConnection connection, Guid[] ids, CancellationToken ct)
    {
        await using var command = new NpgsqlCommand("select from infants where id = any($1) order by id for no key update", connection);
        command.Parameters.AddWithValue(ids);
        await command.ExecuteNonQueryAsync(ct);
    }
}
