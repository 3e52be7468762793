using System.Net.Sockets;
using Microsoft.Extensions.Options;
using Npgsql;
using Registry.Platform.Data;

namespace Registry.Operations.Alarms;

/// <summary>
/// Looks every minute, in every process that serves pages, whether a worker lives: its heartbeat is in the database, and a dead one cannot
/// tell of itself. So many minutes without one are an alarm, so that a worker that is being replaced is none.
/// </summary>
public sealed partial class WatchWorkers(
    ListJobs jobs, TellProblems tell, IOptions<OperationsOptions> options, TimeProvider time, ILogger<WatchWorkers> log) : BackgroundService
{
    private static readonly TimeSpan Every = TimeSpan.FromMinutes(1);

    /// <summary>Since when this process sees none.</summary>
    private DateTimeOffset? _noneSince;

    /// <summary>Looks once.</summary>
    /// <returns>How many letters were sent.</returns>
    public async Task<int> LookAsync(CancellationToken ct)
    {
        var now = time.GetUtcNow();
        if (jobs.Workers().Any(w => w.IsAlive(now))) _noneSince = null;
        else _noneSince ??= now;
        var isProblem = _noneSince <= now.AddMinutes(-options.Value.WorkerMinutes);
        return await tell.RunAsync([ProblemKind.NoWorker], isProblem ? [new(ProblemKind.NoWorker)] : [], ct);
    }

    protected override async Task ExecuteAsync(CancellationToken stoppingToken)
    {
        using var timer = new PeriodicTimer(Every, time);
        while (await timer.WaitForNextTickAsync(stoppingToken))
        {
            try
            {
                await LookAsync(stoppingToken);
            }
            catch (Exception e) when (e is NpgsqlException or IOException or MailKit.ProtocolException or MailKit.CommandException
                or SocketException)
            {
                // The database or the mail server is away: the next look tells it.
                LogNotTold(e is NpgsqlException away ? DatabaseOutage.Name(away) : e.GetType().Name);
            }
        }
    }

    [LoggerMessage(LogLevel.Warning, "Whether a worker runs could not be looked at or told: {Kind}")]
    private partial void LogNotTold(string kind);
}
