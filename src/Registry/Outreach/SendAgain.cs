using Microsoft.EntityFrameworkCore;
using Registry.Platform;
using Registry.Records;

namespace Registry.Outreach;

/// <summary>A coordinator decides that a failed reminder is to be sent again.</summary>
public sealed class SendAgain(RegistryDb db, ProgramClock clock)
{
    /// <returns>False when it is not among the failed ones any more.</returns>
    public async Task<bool> RunAsync(Guid reminder, CancellationToken ct)
    {
        var now = clock.Now;
        return await db.Reminders.Where(r => r.Id == reminder && r.State == ReminderState.Failed)
            .ExecuteUpdateAsync(s => s.SetProperty(r => r.State, ReminderState.Queued).SetProperty(r => r.NotBefore, now)
                .SetProperty(r => r.Attempts, 0).SetProperty(r => r.LastError, (string?)null), ct) > 0;
    }
}
