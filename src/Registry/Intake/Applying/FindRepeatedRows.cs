using Npgsql;
using Registry.Platform;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Intake.Applying;

/// <summary>
/// Finds rows a site sent before, to the letter, that wait for a person or were decided by one. Many sites send the same whole file every
/// night: what a person has before them, or has decided, is not put before them again.
/// </summary>
internal static class FindRepeatedRows
{
    private static readonly string Sql = EmbeddedSql.Read(typeof(FindRepeatedRows), nameof(FindRepeatedRows));

    /// <param name="connection">In the transaction that is to store the rows.</param>
    /// <param name="rows">Rows that would wait: who sent them, what is to become of them, what they say, by its key.</param>
    /// <param name="ct">Cancels.</param>
    /// <returns>The places in <paramref name="rows"/> of those sent before, each with whether a person decided it; else it waits.</returns>
    public static async Task<IReadOnlyDictionary<int, bool>> RunAsync(
        NpgsqlConnection connection, IReadOnlyList<(SiteId Site, RowOutcome Outcome, string Key)> rows, CancellationToken ct)
    {
        var repeated = new Dictionary<int, bool>();
        if (rows.Count == 0) return repeated;
        await using var command = new NpgsqlCommand(Sql, connection);
        command.Parameters.AddWithValue("sites", rows.Select(r => r.Site.Value).ToArray());
        command.Parameters.AddWithValue("outcomes", rows.Select(r => Codes.Of(r.Outcome)).ToArray());
        command.Parameters.AddWithValue("keys", rows.Select(r => r.Key).ToArray());
        await using var reader = await command.ExecuteReaderAsync(ct);
        while (await reader.ReadAsync(ct)) repeated.Add((int)reader.GetInt64(0) - 1, !reader.GetBoolean(1));
        return repeated;
    }
}
