using System.Diagnostics;
using Hangfire.Common;
using Hangfire.Server;
using Npgsql;
using NpgsqlTypes;
using Registry.Platform.Data;

namespace Registry.Platform.Jobs;

/// <summary>Told when a run of a recurring job ended: its id and how.</summary>
public delegate Task JobEnded(string job, JobOutcome outcome);

/// <summary>
/// Writes each run of a recurring job to <c>job_runs</c>: started, finished, what it said or how it failed. A run whose worker
/// was killed stays "running" until the job is picked up again, and is then marked interrupted.
/// </summary>
internal sealed class RecordJobRuns(NpgsqlDataSource source, IEnumerable<RecurringJob> jobs, TimeProvider time, JobEnded ended)
    : JobFilterAttribute, IServerFilter
{
    private const string RunKey = "registry:run";
    private static readonly TimeSpan Keep = TimeSpan.FromDays(30);

    public void OnPerforming(PerformingContext context)
    {
        if (Find(context.BackgroundJob.Job) is not { } job) return;
        var id = Guid.CreateVersion7();
        context.Items[RunKey] = id;
        using var command = source.CreateCommand(EmbeddedSql.Of<RecordJobRuns>());
        command.Parameters.AddWithValue(id);
        command.Parameters.AddWithValue(job.Id);
        command.Parameters.AddWithValue(context.BackgroundJob.Id);
        command.Parameters.AddWithValue(time.GetUtcNow());
        command.Parameters.AddWithValue(time.GetUtcNow() - Keep);
        command.ExecuteNonQuery();
    }

    public void OnPerformed(PerformedContext context)
    {
        if (!context.Items.TryGetValue(RunKey, out var run)) return;
        // A job stopped with its worker is put back in the queue and runs again.
        var stopped = context.Exception is OperationCanceledException or JobAbortedException;
        var outcome = stopped ? JobOutcome.Interrupted : context.Exception is null ? JobOutcome.Succeeded : JobOutcome.Failed;
        using var command = source.CreateCommand("update job_runs set outcome = $2, finished_at = $3, said = $4, error = $5 where id = $1");
        command.Parameters.AddWithValue((Guid)run);
        command.Parameters.AddCode<JobOutcome>(outcome);
        command.Parameters.AddWithValue(time.GetUtcNow());
        command.Parameters.AddNullable(context.Result as string, NpgsqlDbType.Text);
        command.Parameters.AddNullable(context.Exception is null || stopped ? null : Describe(context.Exception), NpgsqlDbType.Text);
        command.ExecuteNonQuery();
        if (Find(context.BackgroundJob.Job) is { } job) ended(job.Id, outcome).GetAwaiter().GetResult();
    }

    /// <summary>The kind of error and the first of our own methods on its way. Messages may quote data, so none is kept.</summary>
    internal static string Describe(Exception error)
    {
        var cause = error is JobPerformanceException { InnerException: { } inner } ? inner : error;
        if (cause is PartlyFailedException partly) return partly.Message;
        var kind = cause is PostgresException postgres ? $"{cause.GetType().Name} {postgres.SqlState}" : cause.GetType().Name;
        var frames = new StackTrace(cause).GetFrames().Select(f => f.GetMethod())
            .Where(m => m?.DeclaringType?.FullName?.StartsWith("Registry.", StringComparison.Ordinal) == true);
        return frames.FirstOrDefault() is { DeclaringType: { } type } ? $"{kind} in {(type.DeclaringType ?? type).Name}" : kind;
    }

    private RecurringJob? Find(Job job) => jobs.FirstOrDefault(j => j.Job.Type == job.Type && j.Job.Method == job.Method);
}

/// <summary>A job did what it could, and something failed on the way.</summary>
/// <param name="said">What it did and how much failed, as counts in words: shown on the operations page as it is, so it holds no
/// value.</param>
public sealed class PartlyFailedException(string said) : Exception(said);

/// <summary>Hangfire's own filters (retries) and ours, in the order they are asked, per program and not per process. A run that waits for
/// its turn is not yet a run.</summary>
internal sealed class JobFilters(LockJobs locks, RecordJobRuns record) : IJobFilterProvider
{
    private readonly KeepNoMessages _messages = new();

    public IEnumerable<JobFilter> GetFilters(Job job) =>
    [
        new JobFilter(_messages, JobFilterScope.Global, order: 0), .. JobFilterProviders.Providers.GetFilters(job),
        new JobFilter(locks, JobFilterScope.Global, order: 1), new JobFilter(record, JobFilterScope.Global, order: 2),
    ];
}
