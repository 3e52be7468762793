using Microsoft.Extensions.Options;
using Npgsql;
using Registry.Operations.Checks;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Platform.Jobs;
using Registry.Rules.Facts;

namespace Registry.Operations.Alarms;

/// <summary>What can be wrong while the registry runs.</summary>
public enum ProblemKind { QueueOld, JobFailing, NoWorker, DiskLow, NoBackup }

/// <summary>One problem. Holds no personal data.</summary>
/// <param name="Kind">What.</param>
/// <param name="Of">The job it is about, by its id; null for others.</param>
/// <param name="Since">Since when, where that is known.</param>
public sealed record Problem(ProblemKind Kind, string? Of = null, DateTimeOffset? Since = null)
{
    /// <summary>One problem has one name, as long as it lasts.</summary>
    public string Name => Of is null ? Codes.Of(Kind) : $"{Codes.Of(Kind)}:{Of}";
}

/// <summary>How long the oldest submission waits, and when the last backup was taken.</summary>
public sealed record OperationsState(DateTimeOffset? OldestWaiting, int Waiting, DateTimeOffset? LastBackup);

/// <summary>Looks for problems: a queue that does not move, a job that fails, no worker, no room, no backup.</summary>
public sealed class FindProblems(
    NpgsqlDataSource source, ListJobs jobs, IConfiguration configuration, IOptions<OperationsOptions> options, TimeProvider time)
{
    private static readonly string StateSql = EmbeddedSql.Of<FindProblems>("ReadOperationsState");

    public async Task<IReadOnlyList<Problem>> RunAsync(CancellationToken ct)
    {
        var (now, limits) = (time.GetUtcNow(), options.Value);
        var state = await StateAsync(ct);
        var found = new List<Problem>();
        if (state.OldestWaiting < now.AddMinutes(-limits.QueueMinutes)) found.Add(new(ProblemKind.QueueOld, Since: state.OldestWaiting));
        if (!jobs.Workers().Any(w => w.IsAlive(now))) found.Add(new(ProblemKind.NoWorker));
        found.AddRange((await jobs.AllAsync(ct)).Where(j => j.Last is { Outcome: JobOutcome.Failed })
            .Select(j => new Problem(ProblemKind.JobFailing, j.Job.Id, j.Last!.StartedAt)));
        if (FreeDisk.Here(configuration).FreeMebibytes < limits.DiskFreeMebibytes) found.Add(new(ProblemKind.DiskLow));
        if (state.LastBackup is not { } backup || backup < now.AddHours(-limits.BackupHours))
            found.Add(new(ProblemKind.NoBackup, Since: state.LastBackup));
        return found;
    }

    public async Task<OperationsState> StateAsync(CancellationToken ct)
    {
        await using var command = source.CreateCommand(StateSql);
        await using var reader = await command.ExecuteReaderAsync(ct);
        await reader.ReadAsync(ct);
        return new(reader.ValueOrNull<DateTimeOffset>(0), reader.GetInt32(1), reader.ValueOrNull<DateTimeOffset>(2));
    }
}
