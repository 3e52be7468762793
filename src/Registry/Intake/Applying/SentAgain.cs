using Npgsql;
using Registry.Intake.Rows;
using Registry.Records;

namespace Registry.Intake.Applying;

/// <summary>
/// A rejected row that comes back in the file of rejected rows: the row that comes takes its place, whatever becomes of it, and the
/// rejected one waits no more. Which row it was stands at the end of its <c>problems</c> cell.
/// </summary>
internal static class SentAgain
{
    /// <summary>A row that came back.</summary>
    /// <param name="SiteId">Who sent it: only that site's own rows are closed.</param>
    /// <param name="Origin">The rejected row.</param>
    /// <param name="By">The row in its place.</param>
    public readonly record struct Row(SiteId SiteId, (Guid Id, int Row) Origin, (Guid Id, int Row) By);

    private const string Reason = "sent again: the row that came back is in its place";

    /// <summary>
    /// What the reader of the first file found (a cancelled result, a value stated twice) is not in the columns of the file of rejected
    /// rows: it is put back, as long as its column says what it said before. What belongs to no column stays with the row that comes back.
    /// </summary>
    public static async Task PutBackAsync(NpgsqlConnection connection, RowBatch batch, int from, SiteId site, CancellationToken ct)
    {
        var back = Enumerable.Range(from, batch.Count - from).Where(i => batch.Origin(i) is not null).ToList();
        if (back.Count == 0) return;
        await using var command = new NpgsqlCommand(
            """
            select n.ordinality, r.content::text, r.problems::text
              from unnest($1::uuid[], $2::int[]) with ordinality as n (id, row) join submissions s on s.id = n.id and s.site_id = $3
              join submission_rows r on r.submission_id = n.id and r.row_number = n.row
             where r.content is not null and r.problems is not null
            """, connection);
        command.Parameters.AddWithValue(back.Select(i => batch.Origin(i)!.Value.Id).ToArray());
        command.Parameters.AddWithValue(back.Select(i => batch.Origin(i)!.Value.Row).ToArray());
        command.Parameters.AddWithValue(site.Value);
        await using var reader = await command.ExecuteReaderAsync(ct);
        while (await reader.ReadAsync(ct))
        {
            var row = back[(int)reader.GetInt64(0) - 1];
            var found = ProblemsJson.FoundByReader(reader.GetString(2));
            if (found.Count == 0) continue;
            foreach (var (_, problem) in ProblemsJson.Unanswered(found, RowContent.Fields(reader.GetString(1)),
                RowContent.Fields(batch.ToJson(row))))
                batch.AddProblem(row, problem);
        }
    }

    /// <summary>Closes the rejected rows that came back and still wait.</summary>
    public static async Task CloseAsync(NpgsqlConnection connection, IReadOnlyList<(Row Row, DateTimeOffset At)> rows, CancellationToken ct)
    {
        if (rows.Count == 0) return;
        await using var close = new NpgsqlCommand(
            """
            update submission_rows r set discarded_at = n.at, problems = coalesce(r.problems, '[]') || jsonb_build_array(
                jsonb_build_object('field', null, 'reason', $7, 'submission', n.by_id, 'row', n.by_row))
              from unnest($1::uuid[], $2::int[], $3::uuid[], $4::uuid[], $5::int[], $6::timestamptz[]) as n (id, row, site, by_id, by_row, at)
              join submissions s on s.id = n.id and s.site_id = n.site
             where r.submission_id = n.id and r.row_number = n.row and r.outcome = 'rejected' and r.discarded_at is null and (n.id, n.row) <> (n.by_id, n.by_row)
            """, connection);
        close.Parameters.AddWithValue(rows.Select(r => r.Row.Origin.Id).ToArray());
        close.Parameters.AddWithValue(rows.Select(r => r.Row.Origin.Row).ToArray());
        close.Parameters.AddWithValue(rows.Select(r => r.Row.SiteId.Value).ToArray());
        close.Parameters.AddWithValue(rows.Select(r => r.Row.By.Id).ToArray());
        close.Parameters.AddWithValue(rows.Select(r => r.Row.By.Row).ToArray());
        close.Parameters.AddWithValue(rows.Select(r => r.At.ToUniversalTime()).ToArray());
        close.Parameters.AddWithValue(Reason);
        await close.ExecuteNonQueryAsync(ct);
    }
}
