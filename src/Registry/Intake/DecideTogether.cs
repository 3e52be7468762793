using Npgsql;
using Registry.Platform;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Intake;

/// <summary>
/// Carries out a bulk decision, and its undo, row by row: each row is a transaction of its own that also says it is done, so a killed worker's
/// work is taken up after the last committed row. A row that was settled meanwhile is left alone and says so.
/// </summary>
public sealed class DecideTogether(NpgsqlDataSource source, DecideRow decide, TakeBackDecision takeBack, RetryHeldRows retry, ProgramClock clock)
{
    /// <summary>Up to so many rows are decided while the person waits.</summary>
    public const int InlineRows = 25;

    private const string Stopped = "stopped: the decision was taken back before its turn";

    /// <summary>The decision, once; the worker carries it out.</summary>
    /// <returns>False when something was decided already.</returns>
    public Task<bool> DecideAsync(BulkDecision bulk, CancellationToken ct) => ChangeAsync(
        """
        update bulk_decisions set kind = $2, decided_at = $3, decided_by = $4, field = $5, from_value = $6, to_value = $7, infant_id = $8
         where id = $1 and decided_at is null
        """, ct, bulk.Id, Codes.Of(bulk.Kind!.Value), clock.Now.ToUniversalTime(), bulk.DecidedBy!.Value, bulk.Field, bulk.FromValue, bulk.ToValue, bulk.InfantId?.Value);

    /// <summary>Asks for the undo of the whole decision, also while it is carried out: what has not had its turn is left as it is.</summary>
    /// <returns>False when it was asked for already.</returns>
    public Task<bool> UndoAsync(Guid id, Guid by, CancellationToken ct) => ChangeAsync(
        "update bulk_decisions set undo_asked_at = $2, undo_asked_by = $3 where id = $1 and decided_at is not null and undo_asked_at is null",
        ct, id, clock.Now.ToUniversalTime(), by);

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
                var reason = undo ? await takeBack.RunAsync(row.Id, row.Row, new(bulk.UndoAskedBy!.Value, id), row.Change, ct)
                    : await DecideAsync(bulk, row.Id, row.Row, ct);
                if (reason is not null) await SayAsync(connection, id, row.Id, row.Row, undo ? BulkRowState.Done : BulkRowState.NotDone, reason, ct);
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

    /// <summary>Every bulk decision a worker left behind: the backstop behind the nudge.</summary>
    public async Task RunAllAsync(CancellationToken ct)
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

        foreach (var id in left) await RunAsync(id, ct);
    }

    /// <summary>The content a bulk correction makes of a row; null when the row does not state what is to be changed.</summary>
    public static IReadOnlyDictionary<Field, string>? Change(IReadOnlyDictionary<Field, string> row, Field field, string? from, string? to)
    {
        var states = row.GetValueOrDefault(field, "");
        if ((from is not null && !string.Equals(states, from, StringComparison.Ordinal)) || states == (to ?? "")) return null;
        return new Dictionary<Field, string>(row) { [field] = to ?? "" };
    }

    private async Task<string?> DecideAsync(BulkDecision bulk, SubmissionId id, int row, CancellationToken ct)
    {
        var by = new Decider(bulk.DecidedBy!.Value, bulk.Id);
        switch (bulk.Kind)
        {
            case RowChangeKind.Corrected:
                var done = await decide.CorrectAsync(id, row, fields => Change(fields, Codes.Parse<Field>(bulk.Field!), bulk.FromValue, bulk.ToValue), by, ct);
                return done.Problem ?? (done.Fields.Count == 0 ? null : "not applied: " + string.Join("; ", done.Fields.Select(p => $"{p.Field} {p.Reason}".Trim())));
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
            "select kind, decided_by, field, from_value, to_value, infant_id, undo_asked_by from bulk_decisions where id = $1 and decided_at is not null", connection);
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
    private static async Task<(SubmissionId Id, int Row, long? Change)?> NextAsync(NpgsqlConnection connection, Guid id, bool undo, CancellationToken ct)
    {
        await using var select = new NpgsqlCommand(undo
            ? "select submission_id, row_number, change_id from bulk_rows where bulk_id = $1 and state = 'done' and reason is null order by ordinal desc limit 1"
            : "select submission_id, row_number, change_id from bulk_rows where bulk_id = $1 and state = 'chosen' order by ordinal limit 1", connection);
        select.Parameters.AddWithValue(id);
        await using var r = await select.ExecuteReaderAsync(ct);
        return await r.ReadAsync(ct) ? (new(r.GetGuid(0)), r.GetInt32(1), r.IsDBNull(2) ? null : r.GetInt64(2)) : null;
    }

    private static async Task StopAsync(NpgsqlConnection connection, Guid id, CancellationToken ct)
    {
        await using var update = new NpgsqlCommand("update bulk_rows set state = 'not_done', reason = $2 where bulk_id = $1 and state = 'chosen'", connection);
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
            update.Parameters.Add(value is null ? new NpgsqlParameter { Value = DBNull.Value, NpgsqlDbType = NpgsqlTypes.NpgsqlDbType.Unknown } : new NpgsqlParameter { Value = value });
        }

        return await update.ExecuteNonQueryAsync(ct) > 0;
    }

    private static async Task<bool> LockAsync(NpgsqlConnection connection, string sql, Guid id, CancellationToken ct)
    {
        await using var command = new NpgsqlCommand(sql, connection);
        command.Parameters.AddWithValue(id.ToString());
        return (bool)(await command.ExecuteScalarAsync(ct))!;
    }
}
