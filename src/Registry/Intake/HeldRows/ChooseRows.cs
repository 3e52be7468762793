using Npgsql;
using NpgsqlTypes;
using Registry.Platform;
using Registry.Records;

namespace Registry.Intake.HeldRows;

/// <summary>Puts waiting rows together for one decision: those ticked, or all that a filter shows. Rows of another site than the filter's
/// are never among them.</summary>
public sealed class ChooseRows(NpgsqlDataSource source, ListWaitingRows list, ProgramClock clock)
{
    /// <summary>The most rows of one decision.</summary>
    public const int Most = 10_000;

    /// <param name="filter">What the chooser saw; its site is what the chooser may see.</param>
    /// <param name="ticked">Of them only these; null for all, the oldest <see cref="Most"/>.</param>
    /// <param name="by">Who chooses.</param>
    /// <param name="ct">Cancels.</param>
    /// <returns>The bulk decision, still to be decided; null when none of the rows waits.</returns>
    public async Task<Guid?> RunAsync(WaitingFilter filter, IReadOnlyList<(SubmissionId Id, int Row)>? ticked, Guid by,
        CancellationToken ct)
    {
        var id = Guid.CreateVersion7();
        await using var connection = await source.OpenConnectionAsync(ct);
        await using var transaction = await connection.BeginTransactionAsync(ct);
        await using (var insert = new NpgsqlCommand(
            "insert into bulk_decisions (id, site_id, chosen_at, chosen_by) values ($1, $2, $3, $4)", connection))
        {
            insert.Parameters.AddWithValue(id);
            insert.Parameters.Add(
                new NpgsqlParameter { Value = (object?)filter.Site?.Value ?? DBNull.Value, NpgsqlDbType = NpgsqlDbType.Uuid });
            insert.Parameters.AddWithValue(clock.Now.ToUniversalTime());
            insert.Parameters.AddWithValue(by);
            await insert.ExecuteNonQueryAsync(ct);
        }

        await using var choose = new NpgsqlCommand(
            $"""
            with waiting as ({ListWaitingRows.Sql}), chosen as (
              select * from waiting w
               where @ids::uuid[] is null or (w.submission_id, w.row_number) in (select * from unnest(@ids::uuid[], @rows::int[]))
               order by w.since, w.submission_id, w.row_number limit {Most})
            insert into bulk_rows (bulk_id, submission_id, row_number, ordinal, state, seen)
            select @bulk, c.submission_id, c.row_number, row_number() over (order by c.kind is distinct from 'birth', c.since, c.submission_id, c.row_number), 'chosen',
                   coalesce((select max(l.id) from row_changes l where l.submission_id = c.submission_id and l.row_number = c.row_number), 0)
              from chosen c
            """, connection);
        list.Bind(choose, filter);
        choose.Parameters.AddWithValue("bulk", id);
        choose.Parameters.Add(
            new("ids", NpgsqlDbType.Array | NpgsqlDbType.Uuid)
            {
                Value = (object?)ticked?.Select(t => t.Id.Value).ToArray()
            ?? DBNull.Value
            });
        choose.Parameters.Add(new("rows", NpgsqlDbType.Array | NpgsqlDbType.Integer)
        {
            Value = (object?)ticked?.Select(t => t.Row).ToArray()
            ?? DBNull.Value
        });
        if (await choose.ExecuteNonQueryAsync(ct) == 0) return null;
        await transaction.CommitAsync(ct);
        return id;
    }
}
