using System.Numerics;
using Microsoft.Extensions.Options;
using Npgsql;
using Registry.Intake.Formats;
using Registry.Intake.Raw;
using Registry.Intake.Rows;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.PolicyVersions;
using Registry.Records;

namespace Registry.Intake.Applying;

/// <summary>
/// Works through a received submission, chunk by chunk. Each chunk's facts, outcomes and progress are one transaction:
/// killed at any moment, it resumes after the last committed row. Safe to call again and from two workers at once.
/// </summary>
public sealed class ProcessSubmission(
    NpgsqlDataSource source, PolicyStore policies, ProgramClock clock, RetryHeldRows retry, IOptions<IntakeOptions> options,
    ILogger<ProcessSubmission> log)
{
    private static readonly string ProgressSql = EmbeddedSql.Of<ProcessSubmission>();

    /// <returns>True when the submission is finished; false when another worker is at it.</returns>
    /// <exception cref="InvalidOperationException">There is no such submission.</exception>
    [Hangfire.Queue(Platform.Jobs.Queues.Intake)]
    [Hangfire.AutomaticRetry(Attempts = 5)]
    public async Task<bool> RunAsync(Guid id, CancellationToken ct)
    {
        await using var connection = await source.OpenConnectionAsync(ct);
        if (!await AdvisoryLock.TryForSessionAsync(connection, LockedThing.Submission, id.ToString(), ct)) return false;
        try
        {
            var submission = await SubmissionToProcess.FindAsync(connection, new(id), ct)
                ?? throw new InvalidOperationException($"There is no submission {id}.");
            if (submission.State is SubmissionState.Received or SubmissionState.Processing) await RunAsync(connection, submission, ct);
            return true;
        }
        finally
        {
            if (connection.State == System.Data.ConnectionState.Open)
                await AdvisoryLock.ReleaseAsync(connection, LockedThing.Submission, id.ToString(), CancellationToken.None);
        }
    }

    private async Task RunAsync(NpgsqlConnection connection, SubmissionToProcess submission, CancellationToken ct)
    {
        var (id, site, receivedAt) = (submission.Id, submission.SiteId, submission.ReceivedAt);
        var check = (await KnownSites.ReadAsync(connection, ct)).Check(clock, receivedAt, site);
        var bytes = new SubmissionStream(source.CreateCommand, id, submission.Bytes);
        using var rows = await OpenRows.ToReadAsync(submission.Read, bytes, clock.Zone, new(source, site), ct);
        var sent = new SentRows(id, site, receivedAt, rows.AllOrNothing);
        var batch = new RowBatch(rows.AllOrNothing ? Math.Max(submission.Rows, 1) : options.Value.ChunkRows, rows.AllOrNothing);
        var (done, chunks, anyWaits) = (submission.RowsDone, 0, false);
        while (await rows.FillAsync(batch, ct))
        {
            var from = 0;
            while (from < batch.Count && batch.Number(from) <= done) from++;
            if (from == batch.Count) continue;

            var chunk = await CheckedChunk.CheckAsync(connection, batch, from, check, sent, ct);
            var (touched, waits) = await InTransaction.RunAsync(connection, token => CommitAsync(connection, chunk, token), ct);
            done = batch.Number(batch.Count - 1);
            anyWaits |= waits;
            await retry.ForTouchedAsync(touched, receivedAt, ct);
            if (BitOperations.IsPow2(++chunks) && batch.IsFull) await RefreshStatisticsAsync(connection, ct);
        }

        // A birth committed by another submission while a row of ours was being decided: look once more.
        if (anyWaits) await retry.ForSubmissionAsync(id, receivedAt, ct);
        await FinishAsync(connection, id, done, ct);
    }

    private async Task<(IReadOnlyCollection<Guid> Touched, bool AnyWaits)> CommitAsync(
        NpgsqlConnection connection, CheckedChunk chunk, CancellationToken ct)
    {
        var today = clock.Today;
        var policy = await policies.InForceAsync(today, ct);
        var applied = await ApplyChunk.RunAsync(connection, chunk, policy, today, ct);
        var outcomes = (await WriteOutcomes.RunAsync(connection, [(chunk, applied.Rows)], ct))[0];
        await using var update = new NpgsqlCommand(ProgressSql, connection);
        update.Parameters.AddWithValue(chunk.Sent.SubmissionId.Value);
        update.Parameters.AddWithValue(chunk.Rows.Count);
        foreach (var count in outcomes.Counts) update.Parameters.AddWithValue(count);
        await update.ExecuteNonQueryAsync(ct);
        return (applied.Touched, outcomes.AnyWaits);
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

    private async Task FinishAsync(NpgsqlConnection connection, SubmissionId id, int rows, CancellationToken ct)
    {
        await using var update = new NpgsqlCommand(
            "update submissions set state = 'done', finished_at = greatest($2, received_at) where id = $1", connection);
        update.Parameters.AddWithValue(id.Value);
        update.Parameters.AddWithValue(clock.Now);
        await update.ExecuteNonQueryAsync(ct);
        log.LogDebug("Submission {SubmissionId} finished: {Rows} rows", id.Value, rows);
    }
}
