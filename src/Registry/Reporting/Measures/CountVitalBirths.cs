using Npgsql;

namespace Registry.Reporting.Measures;

/// <summary>
/// Counts the births of a period that a vital-records office reported: current births of infants that bear a certificate number, as known
/// at a moment. Deaths and moves since do not matter: it is the number of births.
/// </summary>
public sealed class CountVitalBirths(NpgsqlDataSource source)
{
    /// <returns>Null when no office reported a birth of the period.</returns>
    public async Task<int?> RunAsync(DateOnly from, DateOnly to, DateTimeOffset knownAt, CancellationToken ct)
    {
        await using var command = source.CreateCommand(
            """
            select count(*)::int from births b
             where b.born_on between $1 and $2 and b.recorded_at <= $3 and (b.superseded_at is null or b.superseded_at > $3)
               and exists (select from infant_identifiers i join sites s on s.id = i.site_id
                            where i.infant_id = b.infant_id and i.kind = 'record_number' and s.kind = 'vital_records'
                              and i.recorded_at <= $3 and (i.superseded_at is null or i.superseded_at > $3))
            """);
        command.Parameters.AddWithValue(from);
        command.Parameters.AddWithValue(to);
        command.Parameters.AddWithValue(knownAt.ToUniversalTime());
        return await command.ExecuteScalarAsync(ct) is > 0 and int count ? count : null;
    }
}
