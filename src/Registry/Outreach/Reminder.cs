using Registry.Records;
using Registry.Rules;

namespace Registry.Outreach;

public enum ReminderState { Queued, Sent, Failed, Withdrawn }

/// <summary>One message to one family about one due step. The letter itself is rendered when sent and names nobody.</summary>
public sealed class Reminder
{
    public Guid Id { get; init; }
    public InfantId InfantId { get; init; }
    public DueStep Step { get; init; }
    public DateOnly DueOn { get; init; }
    public ReminderState State { get; set; }
    public DateTimeOffset QueuedAt { get; init; }
    public DateTimeOffset? SentAt { get; set; }
    public int Attempts { get; set; }
    public string? LastError { get; set; }
}
