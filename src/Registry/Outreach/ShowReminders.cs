using Microsoft.EntityFrameworkCore;
using Microsoft.Extensions.Options;
using Registry.Access;
using Registry.Platform;
using Registry.Records;
using Registry.Rules;

namespace Registry.Outreach;

/// <summary>How many reminders about a step are in a state.</summary>
public sealed record ReminderCount(ReminderState State, DueStep Step, int Count);

/// <summary>A page of the reminders in one state.</summary>
/// <param name="Counts">Of every state.</param>
/// <param name="Stops">Families who asked for no more.</param>
public sealed record ShownReminders(
    IReadOnlyList<ReminderCount> Counts, int Stops, ReminderState State, int Page, IReadOnlyList<Reminder> Reminders)
{
    public const int PageSize = 50;

    public int Total => Of(State);
    public bool HasNext => Page * PageSize < Total;
    public int Of(ReminderState state) => Counts.Where(c => c.State == state).Sum(c => c.Count);
}

/// <summary>Shows which reminders wait, left, failed or were withdrawn, and the letter they carry; the read is recorded.</summary>
public sealed class ShowReminders(
    RegistryDb db, AuditReads audit, IOptions<OutreachOptions> options, IOptions<ProgramOptions> program)
{
    public async Task<ShownReminders> PageAsync(ReminderState state, int page, CancellationToken ct)
    {
        var counts = await db.Reminders.GroupBy(r => new { r.State, r.Step }).Select(g => new { g.Key, Count = g.Count() }).ToListAsync(ct);
        var reminders = await db.Reminders.AsNoTracking().Where(r => r.State == state)
            .OrderByDescending(r => r.QueuedAt).ThenBy(r => r.Id)
            .Skip((page - 1) * ShownReminders.PageSize).Take(ShownReminders.PageSize).ToListAsync(ct);
        await audit.ListAsync(reminders.Select(r => r.InfantId), ct);
        return new([.. counts.Select(c => new ReminderCount(c.Key.State, c.Key.Step, c.Count))], await db.MailStops.CountAsync(ct),
            state, page, reminders);
    }

    /// <summary>The letter as it is sent, but for the link of its family.</summary>
    public string Preview(Letter letter) => WriteLetter.Text(letter, program.Value.Phone, WriteLetter.StopLink(options.Value, "…"));
}
