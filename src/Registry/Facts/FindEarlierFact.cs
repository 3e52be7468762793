using Npgsql;

namespace Registry.Facts;

/// <summary>Does anything recorded for an infant happen before a day? Asked when a birth date is set.</summary>
internal static class FindEarlierFact
{
    private static readonly string Sql = "select exists (" + string.Join(
        "\nunion all ", FactKinds.All.Where(k => k.Reported != typeof(ReportedBirth)).Select(k => k.Fill(
            "select from {table} where infant_id = $1 and superseded_at is null and {day} < $2::date"))) + ")";

    public static async Task<bool> ExistsAsync(NpgsqlConnection connection, Guid infantId, DateOnly day, CancellationToken ct)
    {
        await using var command = new NpgsqlCommand(Sql, connection);
        command.Parameters.AddWithValue(infantId);
        command.Parameters.AddWithValue(day);
        return (bool)(await command.ExecuteScalarAsync(ct))!;
    }
}
