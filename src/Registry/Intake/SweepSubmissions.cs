using Npgsql;
using Registry.Intake.Applying;
using Registry.Intake.HeldRows.Bulk;
using Registry.Platform.Jobs;

namespace Registry.Intake;

/// <summary>What a sweep did.</summary>
/// <param name="Submissions">Submissions finished.</param>
/// <param name="Rows">Waiting rows that settled.</param>
/// <param name="Failed">Submissions, bulk decisions and looks at waiting rows that failed; each is in the log.</param>
public readonly record struct Swept(int Submissions, int Rows, int Failed);

/// <summary>
/// The backstop behind the nudges: finishes submissions whose worker died and applies waiting rows that a crash, or two
/// submissions at the same moment, left behind; and bulk decisions. Changes nothing when there is nothing to do. What fails stops nothing
/// else.
/// </summary>
public sealed partial class SweepSubmissions(
    NpgsqlDataSource source, ProcessSubmission process, RetryHeldRows retry, DecideInBulk bulk, StartBulkDecision chosen,
    ILogger<SweepSubmissions> log)
{
    /// <summary>As a job: every minute, so a run that fails is not repeated.</summary>
    /// <exception cref="PartlyFailedException">Something failed, after everything else was done.</exception>
    [Hangfire.AutomaticRetry(Attempts = 0)]
    public async Task<string> RunAsJobAsync(CancellationToken ct)
    {
        var (submissions, rows, failed) = await RunAsync(ct);
        var said = $"{submissions} submissions finished, {rows} waiting rows settled";
        return failed == 0 ? said : throw new PartlyFailedException($"{said}, {failed} failed and are tried again: see the log");
    }

    public async Task<Swept> RunAsync(CancellationToken ct)
    {
        var left = new List<Guid>();
        await using (var select = source.CreateCommand(
            "select id from submissions where state in ('received', 'processing') order by received_at, id"))
        {
            await using var reader = await select.ExecuteReaderAsync(ct);
            while (await reader.ReadAsync(ct)) left.Add(reader.GetGuid(0));
        }

        var (finished, settled, failed) = (0, 0, 0);
        foreach (var id in left)
        {
            await TryAsync(id, async () =>
            {
                if (await process.RunAsync(id, ct)) finished++;
            });
        }

        await TryAsync(null, async () => settled = await retry.ForAllAsync(ct));
        await TryAsync(null, async () => failed += await bulk.RunAllAsync(ct));
        await TryAsync(null, () => chosen.ForgetUndecidedAsync(ct));
        return new(finished, settled, failed);

        async Task TryAsync(Guid? submission, Func<Task> run)
        {
            try
            {
                await run();
            }
            catch (Exception e) when (e is not OperationCanceledException)
            {
                failed++;
                if (submission is { } id) LogSubmission(id, RecordJobRuns.Describe(e));
                else LogPart(RecordJobRuns.Describe(e));
            }
        }
    }

    [LoggerMessage(LogLevel.Error, "Submission {SubmissionId} could not be finished: {Kind}")]
    private partial void LogSubmission(Guid submissionId, string kind);

    [LoggerMessage(LogLevel.Error, "A part of the sweep failed: {Kind}")]
    private partial void LogPart(string kind);
}
