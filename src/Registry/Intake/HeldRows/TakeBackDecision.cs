using Npgsql;
using Registry.Facts;
using Registry.Infants.Statuses;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Intake.HeldRows;

/// <summary>
/// Undoes the last decision about a row: the row is again as it was before. Nothing is deleted: what the row added is closed, what it had
/// replaced is restated from that moment on, and the undo is an entry of the history itself.
/// </summary>
public sealed class TakeBackDecision(NpgsqlDataSource source, PolicyStore policies, ProgramClock clock)
{
    /// <param name="id">Its submission.</param>
    /// <param name="row">Its number.</param>
    /// <param name="by">Who.</param>
    /// <param name="only">The change to undo: another one since refuses it. Null: the last.</param>
    /// <param name="ct">Cancels.</param>
    /// <returns>Why it could not be done, in words; null when it was.</returns>
    public async Task<string?> RunAsync(SubmissionId id, int row, Decider by, long? only, CancellationToken ct)
    {
        await using var connection = await source.OpenConnectionAsync(ct);
        try
        {
            await InTransaction.RunAsync(connection, async token =>
            {
                var (locked, since) = await LockedRow.LockAsync(connection, id, row, token);
                if (await LastAsync(connection, locked, token) is not { } last)
                    throw new CannotDecideException("There is no decision to take back.");
                if (only is { } one && one != last.Id)
                    throw new CannotDecideException($"The row was changed since: {since}. Take that back first.");
                if (by.Seen is { } seen && seen != locked.LastChange)
                    throw new CannotDecideException(
                        $"The row was changed after you opened it: {since}. Look at it again; nothing was changed now.");
                var now = clock.Now;
                var touched = await TakeBackFacts.RunAsync(connection, id, row, locked.InfantId, last.At, now, token)
                    ?? throw new CannotDecideException(
                        "Other rows rest on it by now (they name the same infant, or replaced what it said). Settle those first.");
                await RestoreAsync(connection, locked, last, by, now, token);
                if (touched.Count > 0)
                    await RecomputeStatuses.ForInfantsAsync(connection, touched, clock.Today,
                        await policies.InForceAsync(clock.Today, token), token);
                return true;
            }, ct);
            return null;
        }
        catch (CannotDecideException e)
        {
            return e.Message;
        }
    }

    private readonly record struct Change(long Id, DateTimeOffset At, RowOutcome Before);

    private static async Task<Change?> LastAsync(NpgsqlConnection connection, LockedRow locked, CancellationToken ct)
    {
        await using var select = new NpgsqlCommand(
            """
            select c.id, c.at, c.before -> 'row' ->> 'outcome' from row_changes c
             where c.submission_id = $1 and c.row_number = $2 and c.kind <> 'taken_back' and not exists (select from row_changes u where u.takes_back = c.id)
             order by c.id desc limit 1
            """, connection);
        select.Parameters.AddWithValue(locked.Id.Value);
        select.Parameters.AddWithValue(locked.Row);
        await using var r = await select.ExecuteReaderAsync(ct);
        return await r.ReadAsync(ct) ? new(r.GetInt64(0), r.GetFieldValue<DateTimeOffset>(1), Codes.Parse<RowOutcome>(r.GetString(2)))
            : null;
    }

    private static async Task RestoreAsync(NpgsqlConnection connection, LockedRow locked, Change last, Decider by, DateTimeOffset now,
        CancellationToken ct)
    {
        await using var batch = new NpgsqlBatch(connection);
        var remember = LockedRow.Command(
            """
            insert into row_changes (submission_id, row_number, kind, at, person_id, takes_back, bulk_id, before)
            select r.submission_id, r.row_number, 'taken_back', $3, $4, $5, $6, jsonb_build_object('row', to_jsonb(r), 'held', (
                     select to_jsonb(h) from held_rows h where h.submission_id = r.submission_id and h.row_number = r.row_number))
              from submission_rows r where r.submission_id = $1 and r.row_number = $2
            """, locked.Id, locked.Row);
        LockedRow.Add(remember, now.ToUniversalTime(), by.PersonId, last.Id);
        LockedRow.AddOptional(remember, by.BulkId, NpgsqlTypes.NpgsqlDbType.Uuid);
        batch.BatchCommands.Add(remember);
        foreach (var sql in (string[])
        [
            """
            update submission_rows r set (kind, outcome, infant_id, problems, content, discarded_at)
                = (select b.kind, b.outcome, b.infant_id, b.problems, b.content, b.discarded_at
                     from row_changes c, jsonb_populate_record(null::submission_rows, c.before -> 'row') b where c.id = $3)
             where r.submission_id = $1 and r.row_number = $2
            """,
            "delete from held_rows where submission_id = $1 and row_number = $2 and $3 > 0",
            """
            insert into held_rows select b.* from row_changes c, jsonb_populate_record(null::held_rows, c.before -> 'held') b
             where c.id = $3 and c.submission_id = $1 and c.row_number = $2 and jsonb_typeof(c.before -> 'held') = 'object'
            """,
            "update bulk_rows set state = 'taken_back', reason = null where submission_id = $1 and row_number = $2 and change_id = $3",
        ])
        {
            var command = LockedRow.Command(sql, locked.Id, locked.Row);
            LockedRow.Add(command, last.Id);
            batch.BatchCommands.Add(command);
        }

        if (locked.Counts(locked.Outcome, last.Before) is { } counts) batch.BatchCommands.Add(counts);
        await batch.ExecuteNonQueryAsync(ct);
    }
}
