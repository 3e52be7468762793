using Hangfire;
using Microsoft.Extensions.Options;
using Npgsql;
using Registry.Infants.Statuses;
using Registry.Platform;
using Registry.Platform.Jobs;
using Registry.PolicyVersions;
using Registry.Rules.Facts;

namespace Registry.Outreach;

/// <summary>
/// Queues reminders about steps that come due, and withdraws those whose step was done or whose family may no longer be written to.
/// A reminder is unique per infant, step, due date and ordinal, so running it again queues nothing twice.
/// </summary>
/// <remarks>Queue <c>default</c>, nightly and at start, one at a time, three retries. Statuses are brought to today first.</remarks>
public sealed class QueueReminders(NpgsqlDataSource source, PolicyStore policies, ProgramClock clock, IOptions<OutreachOptions> options)
{
    private static readonly string Sql = EmbeddedSql.Of<QueueReminders>()
        .Replace("{may_write}", MayWrite.Sql, StringComparison.Ordinal)
        .Replace("{newest_address}", MayWrite.NewestAddress, StringComparison.Ordinal);

    [OneAtATime]
    [AutomaticRetry(Attempts = 3)]
    public async Task<string> RunAsync(CancellationToken ct)
    {
        var today = clock.Today;
        await RecomputeStatuses.ForCalendarAsync(source, today, await policies.InForceAsync(today, ct), ct);
        var (queued, withdrawn) = await RunAsync(today, ct);
        return $"{queued} reminders queued, {withdrawn} withdrawn";
    }

    private async Task<(int Queued, int Withdrawn)> RunAsync(DateOnly today, CancellationToken ct)
    {
        var o = options.Value;
        await using var command = source.CreateCommand(Sql);
        var p = command.Parameters;
        p.AddWithValue("today", today);
        p.AddWithValue("now", clock.Now);
        p.AddWithValue("steps", o.StepsOrDefault.Select(s => Codes.Of(s)).ToArray());
        p.AddWithValue("days_before", o.DaysBefore);
        p.AddWithValue("max_days_overdue", o.MaxDaysOverdue);
        p.AddWithValue("max_per_step", o.MaxPerStep);
        p.AddWithValue("repeat_days", o.RepeatDays);
        p.AddWithValue("gap_days", o.GapDays);
        await using var r = await command.ExecuteReaderAsync(ct);
        await r.ReadAsync(ct);
        return (r.GetInt32(0), r.GetInt32(1));
    }
}
