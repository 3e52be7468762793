using Npgsql;
using Registry.Intake.Rows;
using Registry.Platform;
using Registry.Records;

namespace Registry.Intake.Applying;

/// <summary>A rejected row that comes back.</summary>
/// <param name="Origin">The rejected row, as the mark in the row that comes back names it.</param>
/// <param name="SiteId">Who sent it back: only that site's own rows are closed.</param>
/// <param name="By">The row that came back: its submission and number.</param>
/// <param name="At">When.</param>
internal readonly record struct ReturnedRow(RowMark Origin, SiteId SiteId, RowMark By, DateTimeOffset At);

/// <summary>
/// Rejected rows that come back in the file of rejected rows. The row that comes takes the place of the rejected one, whatever becomes of
/// it, and the rejected one waits no more.
/// </summary>
internal static class ReturnedRows
{
    private const string Reason = "sent again: the row that came back is in its place";
    private static readonly string FindSql = EmbeddedSql.Read(typeof(ReturnedRows), "FindReturnedRows");
    private static readonly string CloseSql = EmbeddedSql.Read(typeof(ReturnedRows), "CloseReturnedRows");

    /// <summary>
    /// Before its check. What the reader of the first file found (a cancelled result, a value stated twice) is not in the columns of the
    /// file of rejected rows: it is put back, as long as its column says what it said before. What belongs to no column stays with the row.
    /// </summary>
    public static async Task PutBackFoundAsync(NpgsqlConnection connection, RowBatch batch, int from, SiteId site, CancellationToken ct)
    {
        var back = Enumerable.Range(from, batch.Count - from).Where(i => batch.Origin(i) is not null).ToList();
        if (back.Count == 0) return;
        await using var command = new NpgsqlCommand(FindSql, connection);
        command.Parameters.AddWithValue(back.Select(i => batch.Origin(i)!.Value.SubmissionId.Value).ToArray());
        command.Parameters.AddWithValue(back.Select(i => batch.Origin(i)!.Value.Row).ToArray());
        command.Parameters.AddWithValue(site.Value);
        await using var reader = await command.ExecuteReaderAsync(ct);
        while (await reader.ReadAsync(ct))
        {
            var row = back[(int)reader.GetInt64(0) - 1];
            var found = ProblemsJson.FoundByReader(reader.GetString(2));
            if (found.Count == 0) continue;
            var (before, after) = (RowContent.Fields(RowContent.Open(reader.GetString(1))), RowContent.Fields(batch.ToJson(row)));
            foreach (var (_, problem) in ProblemsJson.Unanswered(found, before, after)) batch.AddProblem(row, problem);
        }
    }

    /// <summary>After their outcome: closes the rejected rows that came back and still wait.</summary>
    public static async Task CloseRejectedAsync(NpgsqlConnection connection, IReadOnlyList<ReturnedRow> rows, CancellationToken ct)
    {
        if (rows.Count == 0) return;
        await using var command = new NpgsqlCommand(CloseSql, connection);
        command.Parameters.AddWithValue(rows.Select(r => r.Origin.SubmissionId.Value).ToArray());
        command.Parameters.AddWithValue(rows.Select(r => r.Origin.Row).ToArray());
        command.Parameters.AddWithValue(rows.Select(r => r.SiteId.Value).ToArray());
        command.Parameters.AddWithValue(rows.Select(r => r.By.SubmissionId.Value).ToArray());
        command.Parameters.AddWithValue(rows.Select(r => r.By.Row).ToArray());
        command.Parameters.AddWithValue(rows.Select(r => r.At.ToUniversalTime()).ToArray());
        command.Parameters.AddWithValue(Reason);
        await command.ExecuteNonQueryAsync(ct);
    }
}
