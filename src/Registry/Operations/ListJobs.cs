using Hangfire;
using Hangfire.Storage;
using Npgsql;
using Registry.Platform.Data;
using Registry.Platform.Jobs;
using RecurringJob = Registry.Platform.Jobs.RecurringJob;

namespace Registry.Operations;

/// <summary>A recurring job as the operations page shows it.</summary>
/// <param name="Last">Its latest run; null when it never ran.</param>
/// <param name="NextAt">When it runs next; null while no worker ever scheduled it.</param>
/// <param name="Failures">Failed runs in the last seven days.</param>
/// <param name="SucceededAt">When it last succeeded; null when it never did.</param>
public sealed record JobLine(RecurringJob Job, JobRun? Last, DateTimeOffset? NextAt, int Failures, DateTimeOffset? SucceededAt);

/// <summary>A worker process and when it last said that it lives.</summary>
public sealed record WorkerLine(string Name, DateTimeOffset? HeartbeatAt)
{
    /// <summary>Hangfire's workers beat every 30 seconds.</summary>
    public bool IsAlive(DateTimeOffset now) => HeartbeatAt > now.AddMinutes(-2);
}

/// <summary>What the background jobs did and will do.</summary>
public sealed class ListJobs(NpgsqlDataSource source, IEnumerable<RecurringJob> jobs, JobStorage storage, TimeProvider time)
{
    private const string Columns = "id, job, background_job_id, started_at, finished_at, outcome, said, error";

    public async Task<IReadOnlyList<JobLine>> AllAsync(CancellationToken ct)
    {
        var last = (await RunsAsync($"select distinct on (job) {Columns} from job_runs order by job, started_at desc", ct))
            .ToDictionary(r => r.Job);
        var failures = new Dictionary<string, int>();
        await using (var command = source.CreateCommand(
            "select job, count(*)::int from job_runs where outcome = 'failed' and started_at > $1 group by job"))
        {
            command.Parameters.AddWithValue(time.GetUtcNow().AddDays(-7));
            await using var r = await command.ExecuteReaderAsync(ct);
            while (await r.ReadAsync(ct)) failures[r.GetString(0)] = r.GetInt32(1);
        }

        var succeeded = new Dictionary<string, DateTimeOffset>();
        await using (var command = source.CreateCommand(
            "select job, max(finished_at) from job_runs where outcome = 'succeeded' group by job"))
        {
            await using var r = await command.ExecuteReaderAsync(ct);
            while (await r.ReadAsync(ct)) succeeded[r.GetString(0)] = r.Moment(1);
        }

        using var connection = storage.GetConnection();
        var next = connection.GetRecurringJobs().ToDictionary(j => j.Id, j => j.NextExecution);
        return [.. jobs.Select(j => new JobLine(j, last.GetValueOrDefault(j.Id),
            next.GetValueOrDefault(j.Id) is { } at ? new DateTimeOffset(DateTime.SpecifyKind(at, DateTimeKind.Utc)) : null,
            failures.GetValueOrDefault(j.Id), succeeded.TryGetValue(j.Id, out var when) ? when : null))];
    }

    /// <summary>The latest failed runs, newest first.</summary>
    public Task<IReadOnlyList<JobRun>> FailuresAsync(CancellationToken ct) =>
        RunsAsync($"select {Columns} from job_runs where outcome = 'failed' order by started_at desc limit 20", ct);

    /// <summary>Workers the storage knows, dead ones until it forgets them.</summary>
    public IReadOnlyList<WorkerLine> Workers() =>
        [.. storage.GetMonitoringApi().Servers().Select(s => new WorkerLine(
            s.Name, s.Heartbeat is { } at ? new DateTimeOffset(DateTime.SpecifyKind(at, DateTimeKind.Utc)) : null))];

    private async Task<IReadOnlyList<JobRun>> RunsAsync(string sql, CancellationToken ct)
    {
        var runs = new List<JobRun>();
        await using var command = source.CreateCommand(sql);
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct))
        {
            runs.Add(new JobRun
            {
                Id = r.GetGuid(0),
                Job = r.GetString(1),
                BackgroundJobId = r.GetString(2),
                StartedAt = r.Moment(3),
                FinishedAt = r.ValueOrNull<DateTimeOffset>(4),
                Outcome = r.Code<JobOutcome>(5),
                Said = r.TextOrNull(6),
                Error = r.TextOrNull(7),
            });
        }

        return runs;
    }
}
