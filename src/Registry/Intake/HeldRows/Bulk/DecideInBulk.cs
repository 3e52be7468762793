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
/// Carries out a bulk decision, and its taking back, row by row: each row is a transaction of its own that also says it is done, so a
/// killed worker's work is taken up after the last committed row. A row that was settled or changed meanwhile is left alone and says so; a
/// row that fails says so too, and the others go on.
/// </summary>
public sealed partial class DecideInBulk(
    NpgsqlDataSource source, DecideRow decide, TakeBackDecision takeBack, RetryHeldRows retry, ProgramClock clock,
    ILogger<DecideInBulk> log)
{
    private sealed record NextRow(SubmissionId Id, int Row, long? Change, long Seen);

    /// <returns>True when nothing is left to do; false when another worker is at it.</returns>
    [Hangfire.Queue(Platform.Jobs.Queues.Intake)]
    [Hangfire.AutomaticRetry(Attempts = 5)]
    public async Task<bool> RunAsync(Guid id, CancellationToken ct)
    {
        await using var connection = await source.OpenConnectionAsync(ct);
        if (!await AdvisoryLock.TryForSessionAsync(connection, LockedThing.BulkDecision, id.ToString(), ct)) return false;
        try
        {
            var touched = new HashSet<Guid>();
            while (await RunNextAsync(connection, id, touched, ct))
            {
            }

            // Not before: a row that settled itself would not be part of the decision, nor of its taking back.
            await retry.ForTouchedAsync(touched, clock.Now, ct);
            return true;
        }
        finally
        {
            if (connection.State == System.Data.ConnectionState.Open)
                await AdvisoryLock.ReleaseAsync(connection, LockedThing.BulkDecision, id.ToString(), CancellationToken.None);
        }
    }

    /// <summary>Every bulk decision a worker left behind: the backstop behind the nudge. One that fails does not stop the others.</summary>
    /// <returns>How many failed.</returns>
    public async Task<int> RunAllAsync(CancellationToken ct)
    {
        var failed = 0;
        foreach (var id in await LeftAsync(ct))
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

    /// <summary>The next row's turn. Whether the whole is to be taken back is looked up anew each time.</summary>
    /// <returns>False when no row is left.</returns>
    private async Task<bool> RunNextAsync(NpgsqlConnection connection, Guid id, HashSet<Guid> touched, CancellationToken ct)
    {
        if (await ReadBulkDecision.FindAsync(connection, id, ct) is not ({ DecidedAt: not null } bulk, _)) return false;
        var takesBack = bulk.UndoAskedBy is not null;
        if (takesBack) await StopAsync(connection, id, ct);
        if (await NextAsync(connection, id, takesBack, ct) is not { } row) return false;
        if (await RunAsync(bulk, row, touched, ct) is { } reason)
            await WriteReasonAsync(connection, id, row, takesBack ? BulkRowState.Done : BulkRowState.NotDone, reason, ct);
        return true;
    }

    /// <returns>Why it was not done, in words; null when it was.</returns>
    private async Task<string?> RunAsync(BulkDecision bulk, NextRow row, HashSet<Guid> touched, CancellationToken ct)
    {
        try
        {
            var by = new Decider(bulk.UndoAskedBy ?? bulk.DecidedBy!.Value, bulk.Id) { Together = touched };
            return bulk.UndoAskedBy is null
                ? await DecideAsync(bulk, row, by with { Seen = row.Seen }, ct)
                : Reason(await takeBack.RunAsync(row.Id, row.Row, by, row.Change, ct));
        }
        catch (Exception e) when (e is not (OperationCanceledException or NpgsqlException { IsTransient: true }))
        {
            // Its transaction is gone; the message may quote the row, so only the kind of error is kept.
            var kind = RecordJobRuns.Describe(e);
            LogFailed(bulk.Id, row.Id.Value, row.Row, kind);
            return BulkWords.Failed(kind);
        }
    }

    private async Task<string?> DecideAsync(BulkDecision bulk, NextRow next, Decider by, CancellationToken ct)
    {
        var (id, row) = (next.Id, next.Row);
        return bulk.Kind switch
        {
            RowChangeKind.Corrected => await CorrectAsync(bulk, next, by, ct),
            RowChangeKind.Matched => Reason((await decide.MatchAsync(id, row, bulk.InfantId!.Value, by, ct)).Refusal),
            RowChangeKind.MadeNew => Reason((await decide.MakeNewAsync(id, row, knownAlready: false, by, ct)).Refusal),
            RowChangeKind.AskedAgain => Reason(await decide.AskAgainAsync(id, row, by, ct)),
            RowChangeKind.Discarded => Reason(await decide.DiscardAsync(id, row, by, ct)),
            _ => throw new InvalidOperationException($"{bulk.Kind} is not decided in bulk."),
        };
    }

    private async Task<string?> CorrectAsync(BulkDecision bulk, NextRow next, Decider by, CancellationToken ct)
    {
        var column = Codes.Parse<Field>(bulk.Field!);
        var decided = await decide.CorrectAsync(
            next.Id, next.Row, fields => BulkCorrection.Change(fields, column, bulk.FromValue, bulk.ToValue), by, ct);
        return decided.Problems.Count > 0 ? BulkWords.NotApplied(decided.Problems) : Reason(decided.Refusal);
    }

    private static string? Reason(RowRefusal? refusal) => refusal is null ? null : HeldRowWords.Of(refusal);

    private async Task<IReadOnlyList<Guid>> LeftAsync(CancellationToken ct)
    {
        var left = new List<Guid>();
        await using var select = source.CreateCommand(EmbeddedSql.Of<DecideInBulk>("FindBulkLeft"));
        await using var reader = await select.ExecuteReaderAsync(ct);
        while (await reader.ReadAsync(ct)) left.Add(reader.GetGuid(0));
        return left;
    }

    /// <summary>The next row to decide, births first; of a taking back, the last one first: what rests on a birth goes before it.</summary>
    private static async Task<NextRow?> NextAsync(NpgsqlConnection connection, Guid id, bool takesBack, CancellationToken ct)
    {
        await using var next = new NpgsqlCommand(
            "select submission_id, row_number, change_id, seen from bulk_rows where bulk_id = $1 and " + (takesBack
                ? "state = 'done' and reason is null order by ordinal desc limit 1"
                : "state = 'chosen' order by ordinal limit 1"), connection);
        next.Parameters.AddWithValue(id);
        await using var r = await next.ExecuteReaderAsync(ct);
        return await r.ReadAsync(ct) ? new(new(r.GetGuid(0)), r.GetInt32(1), r.ValueOrNull<long>(2), r.GetInt64(3)) : null;
    }

    private static async Task StopAsync(NpgsqlConnection connection, Guid id, CancellationToken ct)
    {
        await using var update = new NpgsqlCommand(
            "update bulk_rows set state = 'not_done', reason = $2 where bulk_id = $1 and state = 'chosen'", connection);
        update.Parameters.AddWithValue(id);
        update.Parameters.AddWithValue(BulkWords.Stopped);
        await update.ExecuteNonQueryAsync(ct);
    }

    private static async Task WriteReasonAsync(
        NpgsqlConnection connection, Guid bulk, NextRow row, BulkRowState state, string reason, CancellationToken ct)
    {
        await using var update = new NpgsqlCommand(
            "update bulk_rows set state = $4, reason = $5 where bulk_id = $1 and submission_id = $2 and row_number = $3", connection);
        update.Parameters.AddWithValue(bulk);
        update.Parameters.AddWithValue(row.Id.Value);
        update.Parameters.AddWithValue(row.Row);
        update.Parameters.AddWithValue(Codes.Of(state));
        update.Parameters.AddWithValue(reason);
        await update.ExecuteNonQueryAsync(ct);
    }

    [LoggerMessage(LogLevel.Error, "Row {Row} of submission {SubmissionId} in bulk decision {BulkId} failed: {Kind}")]
    private partial void LogFailed(Guid bulkId, Guid submissionId, int row, string kind);

    [LoggerMessage(LogLevel.Error, "Bulk decision {BulkId} failed: {Kind}")]
    private partial void LogBulkFailed(Guid bulkId, string kind);
}
