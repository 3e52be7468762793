using Npgsql;
using NpgsqlTypes;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;

namespace Registry.Intake.HeldRows;

/// <summary>Rows that waited at the end of a day.</summary>
/// <param name="All">Held or rejected.</param>
/// <param name="Older">Of them for more than 30 days (<see cref="WaitingAge.Older"/>).</param>
/// <param name="Unconfirmed">Of them held until somebody confirms that the site cares for the infant.</param>
public readonly record struct WaitingThen(int All, int Older, int Unconfirmed);

/// <summary>Counts the rows that waited at the end of a day: of one site, or with null of all. It shows no value of a row.</summary>
public sealed class CountWaitingThen(NpgsqlDataSource source, ProgramClock clock)
{
    private static readonly string Sql = EmbeddedSql.Of<CountWaitingThen>();

    public async Task<WaitingThen> RunAsync(SiteId? site, DateOnly day, CancellationToken ct)
    {
        await using var command = source.CreateCommand(Sql);
        command.Parameters.AddWithValue("end", clock.EndOf(day).ToUniversalTime());
        command.Parameters.AddWithValue("old", clock.EndOf(day.AddDays(-31)).ToUniversalTime());
        command.Parameters.AddNullable("site", site?.Value, NpgsqlDbType.Uuid);
        await using var r = await command.ExecuteReaderAsync(ct);
        await r.ReadAsync(ct);
        return new(r.GetInt32(0), r.GetInt32(1), r.GetInt32(2));
    }
}
