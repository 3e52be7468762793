using Npgsql;

namespace Registry.Infants.Counting;

/// <summary>Work on many infants, some thousand at a time.</summary>
public static class InfantsInChunks
{
    public const int Size = 2_000;

    /// <summary>Everyone, for <see cref="RunAsync"/>.</summary>
    internal const string All = "select id from infants where $2::date is not null and id > $1 order by id limit $3";

    private const int AtOnce = 4;

    /// <summary>Chunks in id order, several at a time: while one waits for the database another is worked on. Each is one
    /// transaction.</summary>
    /// <param name="source">The database.</param>
    /// <param name="nextChunk">SQL for the next ids: $1 the last one before, $2 <paramref name="today"/>, $3 how many.</param>
    /// <param name="today">The day.</param>
    /// <param name="work">Answers of how many it counts.</param>
    /// <param name="ct">Cancels.</param>
    /// <returns>The sum of the answers.</returns>
    internal static async Task<int> RunAsync(
        NpgsqlDataSource source, string nextChunk, DateOnly today, Func<NpgsqlConnection, Guid[], Task<int>> work, CancellationToken ct)
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
                var counted = await work(connection, chunk);
                await transaction.CommitAsync(ct);
                Interlocked.Add(ref total, counted);
            }
        }

        async Task<Guid[]> NextAsync(NpgsqlConnection connection)
        {
            await turn.WaitAsync(ct);
            try
            {
                var chunk = new List<Guid>(Size);
                await using var select = new NpgsqlCommand(nextChunk, connection);
                select.Parameters.AddWithValue(after);
                select.Parameters.AddWithValue(today);
                select.Parameters.AddWithValue(Size);
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
    internal static async Task LockAsync(NpgsqlConnection connection, Guid[] ids, CancellationToken ct)
    {
        await using var command = new NpgsqlCommand("select from infants where id = any($1) order by id for no key update", connection);
        command.Parameters.AddWithValue(ids);
        await command.ExecuteNonQueryAsync(ct);
    }
}
