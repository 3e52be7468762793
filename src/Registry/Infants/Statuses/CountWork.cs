using Npgsql;
using Registry.Platform;
using Registry.Platform.Data;

namespace Registry.Infants.Statuses;

/// <summary>What is counted of an infant's work.</summary>
internal readonly record struct CountedWork(Guid Site, string? CountyKey, string Tray, string Step);

/// <summary>
/// Keeps how many infants have which work: of each site that owns the next step, of each county, and of the region. Who writes work adds
/// what it changes, in the same transaction, as rows of <c>work_counts</c> of their own: two who count at once need not wait for each
/// other. A place is what its rows add up to; a job puts them together, and what they add up to stays the same.
/// </summary>
public static class CountWork
{
    private static readonly string AddSql = EmbeddedSql.Read(typeof(CountWork), "AddToWorkCounts");
    private static readonly string FoldSql = EmbeddedSql.Read(typeof(CountWork), "FoldWorkCounts");
    private static readonly string CorrectSql = EmbeddedSql.Read(typeof(CountWork), "CorrectWorkCounts");

    /// <summary>Some infants more or fewer in a place, on the caller's connection and in its transaction.</summary>
    internal static async Task AddAsync(
        NpgsqlConnection connection, IReadOnlyDictionary<CountedWork, int> changes, CancellationToken ct)
    {
        var changed = changes.Where(c => c.Value != 0).ToList();
        if (changed.Count == 0) return;
        await using var command = new NpgsqlCommand(AddSql, connection);
        command.Parameters.AddWithValue(changed.Select(c => c.Key.Site).ToArray());
        command.Parameters.AddWithValue(changed.Select(c => c.Key.CountyKey).ToArray());
        command.Parameters.AddWithValue(changed.Select(c => c.Key.Tray).ToArray());
        command.Parameters.AddWithValue(changed.Select(c => c.Key.Step).ToArray());
        command.Parameters.AddWithValue(changed.Select(c => c.Value).ToArray());
        await command.ExecuteNonQueryAsync(ct);
    }

    /// <summary>Puts the rows of a place together, on the caller's connection and in its transaction.</summary>
    /// <returns>How many places there are of those that were put together.</returns>
    public static Task<int> FoldAsync(NpgsqlConnection connection, CancellationToken ct) => AloneAsync(connection, FoldSql, ct);

    /// <summary>Adds what the counts lack of the work itself: nothing, unless somebody wrote past the program.</summary>
    /// <returns>How many places differed.</returns>
    public static Task<int> CorrectAsync(NpgsqlConnection connection, CancellationToken ct) => AloneAsync(connection, CorrectSql, ct);

    private static async Task<int> AloneAsync(NpgsqlConnection connection, string sql, CancellationToken ct)
    {
        await AdvisoryLock.ForTransactionAsync(connection, LockedThing.WorkCounts, "", ct);
        await using var command = new NpgsqlCommand(sql, connection) { CommandTimeout = 0 };
        return await command.ExecuteNonQueryAsync(ct);
    }
}
