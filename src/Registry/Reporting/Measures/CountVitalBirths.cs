using Npgsql;
using Registry.Platform;

namespace Registry.Reporting.Measures;

/// <summary>
/// Counts the births of a period that a vital-records office reported: current births of infants that bear a certificate number, as known
/// at a moment. Deaths and moves since do not matter: it is the number of births.
/// </summary>
public sealed class CountVitalBirths(NpgsqlDataSource source)
{
    private static readonly string Sql = EmbeddedSql.Of<CountVitalBirths>();

    /// <returns>Null when no office reported a birth of the period.</returns>
    public async Task<int?> RunAsync(DateOnly from, DateOnly to, DateTimeOffset knownAt, CancellationToken ct)
    {
        await using var command = source.CreateCommand(Sql);
        command.Parameters.AddWithValue(from);
        command.Parameters.AddWithValue(to);
        command.Parameters.AddWithValue(knownAt.ToUniversalTime());
        return await command.ExecuteScalarAsync(ct) is > 0 and int count ? count : null;
    }
}
