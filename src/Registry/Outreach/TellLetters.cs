using Microsoft.EntityFrameworkCore;
using Registry.Infants.Record;
using Registry.Platform;
using Registry.Records;

namespace Registry.Outreach;

/// <summary>The letters of an infant's story: those that left, that were written, and that failed.</summary>
public sealed class TellLetters(RegistryDb db, ProgramClock clock)
{
    public async Task<IReadOnlyList<StoryLine>> ReadAsync(InfantId infant, DateTimeOffset known, CancellationToken ct)
    {
        var letters = await db.Reminders.AsNoTracking().Where(r => r.InfantId == infant && r.QueuedAt <= known.ToUniversalTime()
            && (r.State == ReminderState.Sent || r.State == ReminderState.Written || r.State == ReminderState.Failed)).ToListAsync(ct);
        return [.. letters.Select(r => (Letter: r, At: r.SentAt ?? r.SendingAt ?? r.QueuedAt)).Where(l => l.At <= known).Select(l =>
            new StoryLine(TimeZoneInfo.ConvertTime(l.At, clock.Zone).DateTime, true, OutreachWords.Told(l.Letter.State),
                OutreachWords.About(l.Letter), []))];
    }
}
