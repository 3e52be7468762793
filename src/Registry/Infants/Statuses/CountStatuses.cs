using Npgsql;
using Registry.Platform;
using Registry.Platform.Data;

namespace Registry.Infants.Statuses;

/// <summary>
/// Keeps counts of statuses: who writes statuses marks the sites and days of birth they are of, in the same transaction
/// (<c>StoreStatuses</c>); a job counts these anew. Until then a reader counts them itself, so what it reads is exact.
/// </summary>
public static class CountStatuses
{
    private static readonly string Sql = With(EmbeddedSql.Read(typeof(CountStatuses), nameof(CountStatuses)));

    /// <summary>On the caller's connection, in its transaction.</summary>
    /// <returns>How many sites and days were counted.</returns>
    public static async Task<int> RunAsync(NpgsqlConnection connection, DateOnly today, CancellationToken ct)
    {
        await AdvisoryLock.ForTransactionAsync(connection, LockedThing.StatusCounts, "", ct);
        await using var command = new NpgsqlCommand(Sql, connection) { CommandTimeout = 0 };
        command.Parameters.AddWithValue("today", today);
        return (int)(await command.ExecuteScalarAsync(ct))!;
    }

    /// <summary>What is counted of a status, in a statement. A step that does not arise is not; that every infant has one row says how long
    /// a count holds.</summary>
    internal static string With(string sql) => sql
        .Replace("{cells}", EmbeddedSql.Read(typeof(CountStatuses), "StatusCells"), StringComparison.Ordinal)
        .Replace("{kept}", "(x.state <> 'not_required' or x.counted = 'screened')", StringComparison.Ordinal);
}
