using Npgsql;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Rules;
using Registry.Rules.Facts;
using Registry.Rules.Quality;

namespace Registry.SiteQuality;

/// <summary>Reads what every comparison is made of: first sessions and rescreens that are alike (<see cref="QualityCell"/>).</summary>
public sealed class ReadCells(NpgsqlDataSource source)
{
    private static readonly string Sql = EmbeddedSql.Of<ReadCells>();

    /// <param name="from">The first day.</param>
    /// <param name="policy">How long a session is.</param>
    /// <param name="ct">Cancels.</param>
    public async Task<IReadOnlyList<QualityCell>> SinceAsync(DateOnly from, Policy policy, CancellationToken ct)
    {
        await using var command = source.CreateCommand(Sql);
        command.CommandTimeout = 0;
        command.Parameters.AddWithValue("from", from);
        command.Parameters.AddWithValue("hours", policy.SessionHours);
        command.Parameters.AddWithValue("minutes", policy.SittingMinutes);
        await using var r = await command.ExecuteReaderAsync(ct);
        var cells = new List<QualityCell>();
        while (await r.ReadAsync(ct))
            cells.Add(new(
                r.GetString(0), r.TextOrNull(1), r.TextOrNull(2), r.TextOrNull(3), r.Date(4), r.GetInt32(5), r.Code<ScreeningMethod>(6),
                (AgeBand)r.GetInt32(7), r.GetBoolean(8), (GestationBand)r.GetInt32(9), r.GetInt32(10), r.GetInt32(11), r.GetInt32(12),
                r.GetInt32(13), r.GetInt32(14), r.GetInt32(15), r.GetBoolean(16), r.IsDBNull(17) ? null : r.GetBoolean(17)));
        return cells;
    }
}
