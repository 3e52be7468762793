using Npgsql;
using Registry.Platform;
using Registry.Records;

namespace Registry.Intake.Applying;

/// <summary>
/// Rows that were applied because details alone (birth date, sex, the mother's name) fitted one infant, and rows that may rest on such a
/// one. They are kept with what they were compared with; when that changes, <see cref="ReopenLeaningRows"/> asks them again.
/// </summary>
internal static class LeaningRows
{
    /// <summary>Stands for the digest in the other statements.</summary>
    public static string Fill(string sql) =>
        sql.Replace("{digest}", EmbeddedSql.Read(typeof(LeaningRows), nameof(LeaningRows)), StringComparison.Ordinal);

    private static readonly string CompareSql = Fill(EmbeddedSql.Read(typeof(LeaningRows), "CompareLeaningRows"));
    private static readonly string RepeatedSql = EmbeddedSql.Read(typeof(LeaningRows), "FindLeaningRepeated");

    /// <summary>Those of some infants of whom a leaning row was applied.</summary>
    public static async Task<HashSet<Guid>> InfantsOfAsync(NpgsqlConnection connection, Guid[] infants, CancellationToken ct)
    {
        var leaning = new HashSet<Guid>();
        if (infants.Length == 0) return leaning;
        await using var command = new NpgsqlCommand(
            "select distinct infant_id from held_rows where infant_id = any($1) and leans_on is not null", connection);
        command.Parameters.AddWithValue(infants);
        await using var reader = await command.ExecuteReaderAsync(ct);
        while (await reader.ReadAsync(ct)) leaning.Add(reader.GetGuid(0));
        return leaning;
    }

    /// <summary>The places of those rows that their site sent before to the letter and that lean already: a file sent every night is kept
    /// once.</summary>
    public static async Task<HashSet<int>> RepeatedAsync(
        NpgsqlConnection connection, IReadOnlyList<(SiteId Site, string Key)> rows, CancellationToken ct)
    {
        var repeated = new HashSet<int>();
        if (rows.Count == 0) return repeated;
        await using var command = new NpgsqlCommand(RepeatedSql, connection);
        command.Parameters.AddWithValue(rows.Select(r => r.Site.Value).ToArray());
        command.Parameters.AddWithValue(rows.Select(r => r.Key).ToArray());
        await using var reader = await command.ExecuteReaderAsync(ct);
        while (await reader.ReadAsync(ct)) repeated.Add((int)reader.GetInt64(0) - 1);
        return repeated;
    }

    /// <summary>Remembers what these rows were compared with, in the transaction that applied them.</summary>
    public static async Task CompareAsync(
        NpgsqlConnection connection, IReadOnlyCollection<(SubmissionId Id, int Row)> rows, CancellationToken ct)
    {
        if (rows.Count == 0) return;
        await using var command = new NpgsqlCommand(CompareSql, connection);
        command.Parameters.AddWithValue(rows.Select(r => r.Id.Value).ToArray());
        command.Parameters.AddWithValue(rows.Select(r => r.Row).ToArray());
        await command.ExecuteNonQueryAsync(ct);
    }
}
