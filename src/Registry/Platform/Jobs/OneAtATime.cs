using Hangfire.Common;
using Hangfire.Server;
using Npgsql;
using Registry.Platform.Data;

namespace Registry.Platform.Jobs;

/// <summary>
/// This job never runs twice at the same moment, in whatever worker: a second run waits for the first. The lock is PostgreSQL's own and
/// belongs to a connection, so it goes when the worker is killed. (Hangfire's is a row that outlives its holder.)
/// </summary>
[AttributeUsage(AttributeTargets.Method)]
public sealed class OneAtATimeAttribute : Attribute;

/// <summary>Takes the lock of a job marked <see cref="OneAtATimeAttribute"/> before it runs, and gives it back after.</summary>
internal sealed class LockJobs(NpgsqlDataSource source) : JobFilterAttribute, IServerFilter
{
    private const string LockKey = "registry:lock";
    private static readonly TimeSpan LongestWait = TimeSpan.FromHours(1);

    public void OnPerforming(PerformingContext context)
    {
        var job = context.BackgroundJob.Job;
        if (!job.Method.IsDefined(typeof(OneAtATimeAttribute), inherit: true)) return;
        var connection = source.OpenConnection();
        try
        {
            AdvisoryLock.ForSession(connection, LockedThing.Job, $"{job.Type.FullName}.{job.Method.Name}", LongestWait);
        }
        catch
        {
            connection.Dispose();
            throw;
        }

        context.Items[LockKey] = connection;
    }

    public void OnPerformed(PerformedContext context)
    {
        if (!context.Items.TryGetValue(LockKey, out var held)) return;
        using var connection = (NpgsqlConnection)held;
        if (connection.State != System.Data.ConnectionState.Open) return; // the server went away, and the lock with it
        using var command = new NpgsqlCommand("select pg_advisory_unlock_all()", connection);
        command.ExecuteNonQuery();
    }
}
