using System.Linq.Expressions;
using Hangfire;
using Hangfire.Common;
using Hangfire.PostgreSql;
using Hangfire.Storage;
using Npgsql;

namespace Registry.Platform.Jobs;

/// <summary>A job that runs by the clock: its id is stable, its title and schedule are shown on the operations page.</summary>
/// <param name="Id">Stable id; renaming it leaves the old one stored.</param>
/// <param name="Title">For people.</param>
/// <param name="Cron">In the program's time zone.</param>
/// <param name="Job">Type and method; a test pins them, because stored jobs name them.</param>
/// <param name="AtStart">Run once when a worker starts, to catch up with the calendar.</param>
public sealed record RecurringJob(string Id, string Title, string Cron, Job Job, bool AtStart = false)
{
    public static RecurringJob Of<T>(string id, string title, string cron, Expression<Func<T, Task>> run, bool atStart = false) =>
        new(id, title, cron, Job.FromExpression(run), atStart);
}

/// <summary>
/// Registers every <see cref="RecurringJob"/> of the program when a worker starts, and forgets those that no longer exist. Beside the
/// start, because a worker that was killed may have left its locks behind: it is tried again until they are gone, while the program serves.
/// </summary>
internal sealed partial class ScheduleJobs(
    IEnumerable<RecurringJob> jobs, IRecurringJobManager manager, IBackgroundJobClient client, JobStorage storage,
    ProgramInForce program, ILogger<ScheduleJobs> log) : BackgroundService
{
    private static readonly TimeSpan BetweenTries = TimeSpan.FromSeconds(5);

    protected override async Task ExecuteAsync(CancellationToken stoppingToken)
    {
        foreach (var job in jobs)
            if (job.AtStart) await UntilItWorksAsync(() => client.Create(job.Job, new Hangfire.States.EnqueuedState(Queues.Default)),
                stoppingToken);
        await UntilItWorksAsync(Register, stoppingToken);
        // Their hours are the program's own: a time zone stated anew moves them.
        program.Changed += () => _ = UntilItWorksAsync(Register, stoppingToken);
    }

    private void Register()
    {
        var zone = TimeZoneInfo.FindSystemTimeZoneById(program.Value.TimeZone);
        foreach (var job in jobs)
            manager.AddOrUpdate(job.Id, job.Job, job.Cron,
                new RecurringJobOptions { TimeZone = zone, MisfireHandling = MisfireHandlingMode.Relaxed });
        using var connection = storage.GetConnection();
        foreach (var stored in StorageConnectionExtensions.GetRecurringJobs(connection))
            if (jobs.All(j => j.Id != stored.Id)) manager.RemoveIfExists(stored.Id);
    }

    private async Task UntilItWorksAsync(Action action, CancellationToken ct)
    {
        while (!ct.IsCancellationRequested)
        {
            try
            {
                await Task.Run(action, ct).WaitAsync(ct); // it blocks, for as long as the locks of the dead last
                return;
            }
            catch (Exception e) when (e is NpgsqlException or DistributedLockTimeoutException or PostgreSqlDistributedLockException)
            {
                LogWaiting(e.GetType().Name);
                await Task.Delay(BetweenTries, ct);
            }
        }
    }

    [LoggerMessage(LogLevel.Warning, "Recurring jobs are not scheduled yet ({Kind}); trying again")]
    private partial void LogWaiting(string kind);
}

/// <summary>Starts one recurring job now, as the operations page does.</summary>
public sealed class RunRecurringJob(IEnumerable<RecurringJob> jobs, IBackgroundJobClient client)
{
    /// <returns>The background job's id; null when there is no recurring job of that id.</returns>
    public string? Start(string id) =>
        jobs.FirstOrDefault(j => j.Id == id) is { } job ? client.Create(job.Job, new Hangfire.States.EnqueuedState(Queues.Default)) : null;
}
