using Microsoft.Extensions.Options;
using Npgsql;
using Registry.Intake.Formats;
using Registry.Intake.Mappings;
using Registry.Intake.Raw;
using Registry.Intake.Rows;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Intake.Applying;

/// <summary>
/// Works through a received submission, chunk by chunk. Each chunk's facts, outcomes and progress are one transaction:
/// killed at any moment, it resumes after the last committed row. Safe to call again and from two workers at once.
/// </summary>
public sealed class ProcessSubmission(
    NpgsqlDataSource source, PolicyStore policies, ProgramClock clock, RetryHeldRows retry, IOptions<IntakeOptions> options,
    ILogger<ProcessSubmission> log)
{
    private sealed record Work(
        SubmissionId Id, SiteId SiteId, HowToRead Read, SubmissionState State, DateTimeOffset ReceivedAt, int RowsDone, int RowCount,
        long Bytes);

    /// <returns>True when the submission is finished; false when another worker is at it.</returns>
    /// <exception cref="InvalidOperationException">There is no such submission.</exception>
    [Hangfire.Queue(Platform.Jobs.Queues.Intake)]
    [Hangfire.AutomaticRetry(Attempts = 5)]
    public async Task<bool> RunAsync(Guid id, CancellationToken ct)
    {
        await using var connection = await source.OpenConnectionAsync(ct);
        if (!await LockAsync(connection, "select pg_try_advisory_lock(hashtextextended($1, 11))", id, ct)) return false;
        try
        {
            var work = await LoadAsync(connection, id, ct);
            if (work.State is SubmissionState.Received or SubmissionState.Processing) await RunAsync(connection, work, ct);
            return true;
        }
        finally
        {
            if (connection.State == System.Data.ConnectionState.Open)
                await LockAsync(connection, "select pg_advisory_unlock(hashtextextended($1, 11))", id, CancellationToken.None);
        }
    }

    private async Task RunAsync(NpgsqlConnection connection, Work work, CancellationToken ct)
    {
        var check = (await KnownSites.ReadAsync(connection, ct)).Check(clock.DateOf(work.ReceivedAt), work.SiteId);
        using var rows = await RowReader.OpenAsync(
            work.Read, new SubmissionStream(source.CreateCommand, work.Id, work.Bytes), clock.Zone, new(source, work.SiteId), ct);
        var batch = new RowBatch(rows.AllOrNothing ? Math.Max(work.RowCount, 1) : options.Value.ChunkRows, rows.AllOrNothing);
        var anyWaits = false;
        var done = work.RowsDone;
        var chunks = 0;
        while (await rows.FillAsync(batch, ct))
        {
            var from = 0;
            while (from < batch.Count && batch.Number(from) <= done) from++;
            if (from == batch.Count) continue;

            await SentAgain.PutBackAsync(connection, batch, from, work.SiteId, ct);
            var chunk = new CheckedChunk(batch, from, check, work.Id, work.SiteId, work.ReceivedAt) { AllOrNothing = rows.AllOrNothing };
            var known = await InTransaction.RunAsync(connection, token => CommitAsync(connection, work, chunk, token), ct);
            done = batch.Number(batch.Count - 1);
            anyWaits |= chunk.AnyWaits;
            await retry.ForNewlyKnownAsync(known, work.ReceivedAt, ct);
            if (System.Numerics.BitOperations.IsPow2(++chunks) && batch.IsFull) await RefreshStatisticsAsync(connection, ct);
        }

        // A birth committed by another submission while a row of ours was being decided: look once more.
        if (anyWaits) await retry.ForSubmissionAsync(work.Id, work.ReceivedAt, ct);
        await FinishAsync(connection, work, done, ct);
    }

    private async Task<NewlyKnown> CommitAsync(NpgsqlConnection connection, Work work, CheckedChunk chunk, CancellationToken ct)
    {
        var today = clock.Today;
        var policy = await policies.InForceAsync(today, ct);
        var applied = chunk.AllOrNothing
            ? await ApplyWhole.RunAsync(connection, chunk, policy, today, ct)
            : await ApplyRows.RunAsync(connection, chunk.Valid, policy, today, ct);
        var counts = (await CheckedChunk.WriteOutcomesAsync(connection, [(chunk, applied.Rows)], ct))[0];
        await using var update = new NpgsqlCommand(
            """
            update submissions set state = 'processing', rows_done = rows_done + $2, accepted = accepted + $3, unchanged = unchanged + $4,
              rejected = rejected + $5, held = held + $6 where id = $1
            """, connection);
        update.Parameters.AddWithValue(work.Id.Value);
        update.Parameters.AddWithValue(counts.Sum());
        foreach (var outcome in Enum.GetValues<RowOutcome>()) update.Parameters.AddWithValue(counts[(int)outcome]);
        await update.ExecuteNonQueryAsync(ct);
        return applied.Known;
    }

    /// <summary>
    /// A long file can multiply a young registry within a minute, faster than the server looks at its tables by itself; with
    /// statistics of an empty table the planner picks the wrong index. So they are renewed as the file's chunks double.
    /// </summary>
    private static async Task RefreshStatisticsAsync(NpgsqlConnection connection, CancellationToken ct)
    {
        await using var analyze = new NpgsqlCommand(
            "analyze (skip_locked) infants, infant_identifiers, births, screenings, infant_status, submission_rows, held_rows", connection);
        await analyze.ExecuteNonQueryAsync(ct);
    }

    private async Task FinishAsync(NpgsqlConnection connection, Work work, int rows, CancellationToken ct)
    {
        await using var update = new NpgsqlCommand(
            "update submissions set state = 'done', finished_at = greatest($2, received_at) where id = $1", connection);
        update.Parameters.AddWithValue(work.Id.Value);
        update.Parameters.AddWithValue(clock.Now);
        await update.ExecuteNonQueryAsync(ct);
        log.LogDebug("Submission {SubmissionId} finished: {Rows} rows", work.Id.Value, rows);
    }

    private static async Task<Work> LoadAsync(NpgsqlConnection connection, Guid id, CancellationToken ct)
    {
        Work work;
        Guid? mapping;
        await using (var command = new NpgsqlCommand(
            "select site_id, format, state, default_kind, received_at, rows_done, byte_count, gzip, encoding, sheet, mapping_version_id, "
                + "row_count from submissions where id = $1", connection))
        {
            command.Parameters.AddWithValue(id);
            await using var r = await command.ExecuteReaderAsync(ct);
            if (!await r.ReadAsync(ct)) throw new InvalidOperationException($"There is no submission {id}.");
            mapping = r.IsDBNull(10) ? null : r.GetGuid(10);
            var read = new HowToRead(Codes.Parse<SubmissionFormat>(r.GetString(1)),
                r.IsDBNull(3) ? null : Codes.Parse<RowKind>(r.GetString(3)))
            {
                Gzip = r.GetBoolean(7),
                Encoding = r.IsDBNull(8) ? null : Codes.Parse<TextEncoding>(r.GetString(8)),
                Sheet = r.IsDBNull(9) ? null : r.GetString(9),
            };
            work = new(new(id), new(r.GetGuid(0)), read, Codes.Parse<SubmissionState>(r.GetString(2)), r.GetFieldValue<DateTimeOffset>(4),
                r.GetInt32(5), r.GetInt32(11), r.GetInt64(6));
        }

        return mapping is { } version
            ? work with { Read = work.Read with { Mapping = await FindMapping.ByVersionAsync(connection, version, ct) } } : work;
    }

    private static async Task<bool> LockAsync(NpgsqlConnection connection, string sql, Guid id, CancellationToken ct)
    {
        await using var command = new NpgsqlCommand(sql, connection);
        command.Parameters.AddWithValue(id.ToString());
        return (bool)(await command.ExecuteScalarAsync(ct))!;
    }
}
