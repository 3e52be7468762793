using Npgsql;
using Registry.Platform;
using Registry.Rules.Linkage;

namespace Registry.Intake.Applying;

/// <summary>
/// Counts, by sender and day, the rows that name a card id and led nowhere: whoever tries card ids has many. A record number leads to its
/// own site's infants only, and is not counted.
/// </summary>
internal static class CountUnmatched
{
    private static readonly string Sql = EmbeddedSql.Read(typeof(CountUnmatched), nameof(CountUnmatched));

    /// <summary>In the transaction that lets the rows wait.</summary>
    public static async Task AddAsync(NpgsqlConnection connection, IReadOnlyCollection<RowToHold> held, CancellationToken ct)
    {
        var counts = held.Where(h => h.Reason == HoldReason.NoSuchInfant && h.Row.CardId is not null)
            .GroupBy(h => (Site: h.SiteId.Value, Day: DateOnly.FromDateTime(h.HeldAt.UtcDateTime)))
            .Select(g => (g.Key.Site, g.Key.Day, Rows: g.Count(), Last: g.Max(h => h.HeldAt).ToUniversalTime())).ToList();
        if (counts.Count == 0) return;
        await using var command = new NpgsqlCommand(Sql, connection);
        command.Parameters.AddWithValue(counts.ConvertAll(c => c.Site));
        command.Parameters.AddWithValue(counts.ConvertAll(c => c.Day));
        command.Parameters.AddWithValue(counts.ConvertAll(c => c.Rows));
        command.Parameters.AddWithValue(counts.ConvertAll(c => c.Last));
        await command.ExecuteNonQueryAsync(ct);
    }
}
