using Npgsql;
using Registry.Intake.Applying;
using Registry.Intake.Rows;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Platform.Jobs;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Intake.HeldRows.Bulk;

/// <summary>
/// Carries out a bulk decision, and its undo, row by row: each row is a transaction of its own that also says it is done, so a killed
/// worker's work is taken up after the last committed row. A row that was settled or changed meanwhile is left alone and says so; a row
/// that fails says so too, and the others go on.
/// </summary>
public sealed partial class DecideTogether(
    NpgsqlDataSource source, DecideRow decide, TakeBackDecision takeBack, RetryHeldRows retry, ProgramClock clock,
    ILogger<DecideTogether> log)
{
    /// <summary>Up to so many rows are decided while the person waits.</summary>
    public const int InlineRows = 25;

    private readonly record struct NextRow(SubmissionId Id, int Row, long? Change, long Seen);

    private const string Stopped = "stopped: the decision was taken back before its turn";

    /// <summary>The decision, once; the worker carries it out.</summary>
    /// <returns>False when something was decided already.</returns>
    public Task<bool> DecideAsync(BulkDecision bulk, CancellationToken ct) => ChangeAsync(
        """
        update bulk_decisions set kind = $2, decided_at = $3, decided_by = $4, field = $5, from_value = $6, to_value = $7, infant_id = $8
         where id = $1 and decided_at is null
        """, ct, bulk.Id, Codes.Of(bulk.Kind!.Value), clock.Now.ToUniversalTime(), bulk.DecidedBy!.Value, bulk.Field, bulk.FromValue, bulk.ToValue, bulk.InfantId?.Value);

    /// <summary>Asks for the undo of the whole decision, also while it is carried out: what has not had its turn is left as it is. When it
    /// is through it can be asked for again, for the rows that could not be undone then.</summary>
    /// <returns>False when it was asked for already, or nothing is left to undo.</returns>
    public async Task<bool> UndoAsync(Guid id, Guid by, CancellationToken ct)
    {
        await using var connection = await source.OpenConnectionAsync(ct);
        return await InTransaction.RunAsync(connection, async token =>
        {
            await using var ask = new NpgsqlCommand(
                """
                update bulk_decisions set undo_asked_at = $2, undo_asked_by = $3
                 where id = $1 and decided_at is not null and (undo_asked_at is null or (
                   not exists (select from bulk_rows where bulk_id = $1 and (state = 'chosen' or (state = 'done' and reason is null)))
                   and exists (select from bulk_rows where bulk_id = $1 and state = 'done')))
                """, connection);
            ask.Parameters.AddWithValue(id);
            ask.Parameters.AddWithValue(clock.Now.ToUniversalTime());
            ask.Parameters.AddWithValue(by);
            if (await ask.ExecuteNonQueryAsync(token) == 0) return false;
            await using var again = new NpgsqlCommand(
                "update bulk_rows set reason = null where bulk_id = $1 and state = 'done' and reason is not null", connection);
            again.Parameters.AddWithValue(id);
            await again.ExecuteNonQueryAsync(token);
            return true;
        }, ct);
    }

    /// <returns>True when nothing is left to do; false when another worker is at it.</returns>
    [Hangfire.Queue(Platform.Jobs.Queues.Intake)]
    [Hangfire.AutomaticRetry(Attempts = 5)]
    public async Task<bool> RunAsync(Guid id, CancellationToken ct)
    {
        await using var connection = await source.OpenConnectionAsync(ct);
        if (!await LockAsync(connection, "select pg_try_advisory_lock(hashtextextended($1, 13))", id, ct)) return false;
        try
        {
            while (await LoadAsync(connection, id, ct) is { } bulk)
            {
                var undo = bulk.UndoAskedBy is not null;
                if (undo) await StopAsync(connection, id, ct);
                if (await NextAsync(connection, id, undo, ct) is not { } row) break;
                string? reason;
                try
                {
                    reason = undo ? await takeBack.RunAsync(row.Id, row.Row, new(bulk.UndoAskedBy!.Value, id), row.Change, ct)
                        : await DecideAsync(bulk, row, ct);
                }
                catch (Exception e) when (e is not (OperationCanceledException or NpgsqlException { IsTransient: true }))
                {
                    // Its transaction is gone; the message may quote the row, so only the kind of error is kept.
                    var kind = RecordJobRuns.Describe(e);
                    LogFailed(id, row.Id.Value, row.Row, kind);
                    reason = $"could not be done, by an error of the program ({kind}); the row is as it was";
                }

                if (reason is not null)
                    await SayAsync(connection, id, row.Id, row.Row, undo ? BulkRowState.Done : BulkRowState.NotDone, reason, ct);
            }

            await retry.ForAllAsync(ct);
            return true;
        }
        finally
        {
            if (connection.State == System.Data.ConnectionState.Open)
                await LockAsync(connection, "select pg_advisory_unlock(hashtextextended($1, 13))", id, CancellationToken.None);
        }
    }

    /// <summary>Every bulk decision a worker left behind: the backstop behind the nudge. One that fails does not stop the others.</summary>
    /// <returns>How many failed.</returns>
    public async Task<int> RunAllAsync(CancellationToken ct)
    {
        var left = new List<Guid>();
        await using (var select = source.CreateCommand(
            """
            select b.id from bulk_decisions b where b.decided_at is not null and (
              exists (select from bulk_rows r where r.bulk_id = b.id and r.state = 'chosen')
              or (b.undo_asked_at is not null and exists (select from bulk_rows r where r.bulk_id = b.id and r.state = 'done' and r.reason is null)))
            """))
        {
            await using var reader = await select.ExecuteReaderAsync(ct);
            while (await reader.ReadAsync(ct)) left.Add(reader.GetGuid(0));
        }

        var failed = 0;
        foreach (var id in left)
        {
            try
            {
                await RunAsync(id, ct);
            }
            catch (Exception e) when (e is not OperationCanceledException)
            {
                failed++;
                LogBulkFailed(id, RecordJobRuns.Describe(e));
            }
        }

        return failed;
    }

    /// <summary>Forgets what was chosen more than a day ago and never decided: nothing came of it.</summary>
    public async Task ForgetUndecidedAsync(CancellationToken ct)
    {
        await using var connection = await source.OpenConnectionAsync(ct);
        await InTransaction.RunAsync(connection, async token =>
        {
            await using var find = new NpgsqlCommand(
                "select coalesce(array_agg(id), '{}') from (select id from bulk_decisions where decided_at is null and chosen_at < $1 for "
                    + "update) b", connection);
            find.Parameters.AddWithValue(clock.Now.AddDays(-1).ToUniversalTime());
            var forgotten = (Guid[])(await find.ExecuteScalarAsync(token))!;
            foreach (var sql in (string[])["delete from bulk_rows where bulk_id = any($1)",
                "delete from bulk_decisions where id = any($1)"])
            {
                await using var forget = new NpgsqlCommand(sql, connection);
                forget.Parameters.AddWithValue(forgotten);
                await forget.ExecuteNonQueryAsync(token);
            }

            return forgotten.Length;
        }, ct);
    }

    /// <summary>The content a bulk correction makes of a row; null when the row does not state what is to be changed.</summary>
    public static IReadOnlyDictionary<Field, string>? Change(IReadOnlyDictionary<Field, string> row, Field field, string? from, string? to)
    {
        var states = row.GetValueOrDefault(field, "");
        if ((from is not null && !string.Equals(states, from, StringComparison.Ordinal)) || states == (to ?? "")) return null;
        return new Dictionary<Field, string>(row) { [field] = to ?? "" };
    }

    private async Task<string?> DecideAsync(BulkDecision bulk, NextRow next, CancellationToken ct)
    {
        var (id, row) = (next.Id, next.Row);
        var by = new Decider(bulk.DecidedBy!.Value, bulk.Id, next.Seen);
        switch (bulk.Kind)
        {
            case RowChangeKind.Corrected:
                var done = await decide.CorrectAsync(id, row, fields =>
                    Change(fields, Codes.Parse<Field>(bulk.Field!), bulk.FromValue, bulk.ToValue), by, ct);
                return done.Problem ?? (done.Fields.Count == 0 ? null : "not applied: " + string.Join(
                    "; ", done.Fields.Select(p => $"{p.Field} {p.Reason}".Trim())));
            case RowChangeKind.Matched:
                return await decide.ApplyAsync(id, row, bulk.InfantId, by, ct);
            case RowChangeKind.AskedAgain:
                return await decide.AskAgainAsync(id, row, by, ct);
            case RowChangeKind.Discarded:
                return await decide.DiscardAsync(id, row, by, ct);
            default:
                throw new InvalidOperationException($"{bulk.Kind} is not decided in bulk.");
        }
    }

    private static async Task<BulkDecision?> LoadAsync(NpgsqlConnection connection, Guid id, CancellationToken ct)
    {
        await using var select = new NpgsqlCommand(
            "select kind, decided_by, field, from_value, to_value, infant_id, undo_asked_by from bulk_decisions where id = $1 and "
                + "decided_at is not null", connection);
        select.Parameters.AddWithValue(id);
        await using var r = await select.ExecuteReaderAsync(ct);
        if (!await r.ReadAsync(ct)) return null;
        return new()
        {
            Id = id,
            Kind = Codes.Parse<RowChangeKind>(r.GetString(0)),
            DecidedBy = r.GetGuid(1),
            Field = r.IsDBNull(2) ? null : r.GetString(2),
            FromValue = r.IsDBNull(3) ? null : r.GetString(3),
            ToValue = r.IsDBNull(4) ? null : r.GetString(4),
            InfantId = r.IsDBNull(5) ? null : new InfantId(r.GetGuid(5)),
            UndoAskedBy = r.IsDBNull(6) ? null : r.GetGuid(6),
        };
    }

    /// <summary>The next row to decide, births first; of an undo, the last one first: what rests on a birth goes before it.</summary>
    private static async Task<NextRow?> NextAsync(NpgsqlConnection connection, Guid id, bool undo, CancellationToken ct)
    {
        await using var select = new NpgsqlCommand(undo
            ? "select submission_id, row_number, change_id, seen from bulk_rows where bulk_id = $1 and state = 'done' and reason is null "
                + "order by ordinal desc limit 1"
            : "select submission_id, row_number, change_id, seen from bulk_rows where bulk_id = $1 and state = 'chosen' order by ordinal "
                + "limit 1", connection);
        select.Parameters.AddWithValue(id);
        await using var r = await select.ExecuteReaderAsync(ct);
        return await r.ReadAsync(ct) ? new(new(r.GetGuid(0)), r.GetInt32(1), r.IsDBNull(2) ? null : r.GetInt64(2), r.GetInt64(3)) : null;
    }

    private static async Task StopAsync(NpgsqlConnection connection, Guid id, CancellationToken ct)
    {
        await using var update = new NpgsqlCommand(
            "update bulk_rows set state = 'not_done', reason = $2 where bulk_id = $1 and state = 'chosen'", connection);
        update.Parameters.AddWithValue(id);
        update.Parameters.AddWithValue(Stopped);
        await update.ExecuteNonQueryAsync(ct);
    }

    private static async Task SayAsync(
        NpgsqlConnection connection, Guid bulk, SubmissionId id, int row, BulkRowState state, string reason, CancellationToken ct)
    {
        await using var update = new NpgsqlCommand(
            "update bulk_rows set state = $4, reason = $5 where bulk_id = $1 and submission_id = $2 and row_number = $3", connection);
        update.Parameters.AddWithValue(bulk);
        update.Parameters.AddWithValue(id.Value);
        update.Parameters.AddWithValue(row);
        update.Parameters.AddWithValue(Codes.Of(state));
        update.Parameters.AddWithValue(reason);
        await update.ExecuteNonQueryAsync(ct);
    }

    private async Task<bool> ChangeAsync(string sql, CancellationToken ct, params object?[] values)
    {
        await using var update = source.CreateCommand(sql);
        foreach (var value in values)
        {
            update.Parameters.Add(
                value is null ? new NpgsqlParameter { Value = DBNull.Value, NpgsqlDbType = NpgsqlTypes.NpgsqlDbType.Unknown }
                : new NpgsqlParameter { Value = value });
        }

        return await update.ExecuteNonQueryAsync(ct) > 0;
    }

    private static async Task<bool> LockAsync(NpgsqlConnection connection, string sql, Guid id, CancellationToken ct)
    {
        await using var command = new NpgsqlCommand(sql, connection);
        command.Parameters.AddWithValue(id.ToString());
        return (bool)(await command.ExecuteScalarAsync(ct))!;
    }

    [LoggerMessage(LogLevel.Error, "Row {Row} of submission {SubmissionId} in bulk decision {BulkId} failed: {Kind}")]
    private partial void LogFailed(Guid bulkId, Guid submissionId, int row, string kind);

    [LoggerMessage(LogLevel.Error, "Bulk decision {BulkId} failed: {Kind}")]
    private partial void LogBulkFailed(Guid bulkId, string kind);
}
