using Npgsql;
using Registry.Facts;
using Registry.Infants.Statuses;
using Registry.Intake.Applying;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.PolicyVersions;
using Registry.Records;

namespace Registry.Intake.HeldRows;

/// <summary>
/// Takes back the last decision about a row: the row is again as it was before. Nothing is deleted: what the row added is closed, what it
/// had replaced is restated from that moment on, and the taking back is an entry of the history itself.
/// </summary>
public sealed class TakeBackDecision(NpgsqlDataSource source, PolicyStore policies, ProgramClock clock, RetryHeldRows retry)
{
    /// <param name="id">Its submission.</param>
    /// <param name="row">Its number.</param>
    /// <param name="by">Who.</param>
    /// <param name="only">The change to take back: another one since refuses it. Null: the last.</param>
    /// <param name="ct">Cancels.</param>
    /// <returns>Why it was not done; null when it was.</returns>
    public async Task<RowRefusal?> RunAsync(SubmissionId id, int row, Decider by, long? only, CancellationToken ct)
    {
        await using var connection = await source.OpenConnectionAsync(ct);
        try
        {
            var touched = await InTransaction.RunAsync(connection, async token =>
                await RunAsync(connection, await LockedRow.LockAsync(connection, id, row, token), by, only, token), ct);
            if (by.Together is { } all) all.UnionWith(touched);
            else await retry.ForTouchedAsync(touched, clock.Now, ct);
            return null;
        }
        catch (RefusedException e)
        {
            return e.Refusal;
        }
    }

    /// <returns>The infants it touched.</returns>
    private async Task<IReadOnlyCollection<Guid>> RunAsync(
        NpgsqlConnection connection, LockedRow locked, Decider by, long? only, CancellationToken ct)
    {
        var last = await LastAsync(connection, locked, ct) ?? throw new RefusedException(WhyRefused.NothingToTakeBack);
        if (only is { } one && one != last.Id) throw locked.Refused(WhyRefused.ChangedSinceDecision);
        if (by.Seen is { } seen && seen != locked.LastChange) throw locked.Refused(WhyRefused.ChangedSinceOpened);

        var now = clock.Now;
        var touched = await TakeBackFacts.RunAsync(connection, locked.Id, locked.Row, locked.InfantId, last.At, now, ct)
            ?? throw new RefusedException(WhyRefused.OthersRestOnIt);
        await RestoreAsync(connection, locked, last, by, now, ct);
        if (touched.Count > 0)
            await RecomputeStatuses.ForInfantsAsync(
                connection, touched, clock.Today, await policies.InForceAsync(clock.Today, ct), ct);
        return touched;
    }

    private sealed record Change(long Id, DateTimeOffset At, RowOutcome Before);

    private static async Task<Change?> LastAsync(NpgsqlConnection connection, LockedRow locked, CancellationToken ct)
    {
        await using var select = new NpgsqlCommand(EmbeddedSql.Of<TakeBackDecision>("FindLastDecision"), connection);
        select.Parameters.AddWithValue(locked.Id.Value);
        select.Parameters.AddWithValue(locked.Row);
        await using var r = await select.ExecuteReaderAsync(ct);
        return await r.ReadAsync(ct) ? new(r.GetInt64(0), r.Moment(1), r.Code<RowOutcome>(2)) : null;
    }

    private static async Task RestoreAsync(
        NpgsqlConnection connection, LockedRow locked, Change last, Decider by, DateTimeOffset now, CancellationToken ct)
    {
        await using var batch = new NpgsqlBatch(connection);
        batch.BatchCommands.Add(locked.Remember(RowChangeKind.TakenBack, now, by, takesBack: last.Id));
        batch.BatchCommands.Add(OfChange(EmbeddedSql.Of<TakeBackDecision>("RestoreRow")));
        batch.BatchCommands.Add(LockedRow.Command(
            "delete from held_rows where submission_id = $1 and row_number = $2", locked.Id, locked.Row));
        batch.BatchCommands.Add(OfChange(EmbeddedSql.Of<TakeBackDecision>("RestoreHeldRow")));
        batch.BatchCommands.Add(OfChange(
            "update bulk_rows set state = 'taken_back', reason = null where submission_id = $1 and row_number = $2 and change_id = $3"));
        if (locked.Count(locked.Outcome, last.Before) is { } count) batch.BatchCommands.Add(count);
        await batch.ExecuteNonQueryAsync(ct);

        NpgsqlBatchCommand OfChange(string sql)
        {
            var command = LockedRow.Command(sql, locked.Id, locked.Row);
            command.Parameters.AddWithValue(last.Id);
            return command;
        }
    }
}
