using Registry.Ui;

namespace Registry.Outreach;

/// <summary>What the page of reminders says after a decision.</summary>
public static class OutreachWords
{
    public static string Of(ReminderState state) => state switch
    {
        ReminderState.Written => "Written to a file, not sent",
        _ => Words.Of((Enum)state),
    };

    /// <summary>What became of a letter, in an infant's story.</summary>
    public static string Told(ReminderState state) => state switch
    {
        ReminderState.Sent => "Reminder sent by e-mail",
        ReminderState.Written => "Reminder written to a file, not sent",
        _ => "Reminder not sent: it failed",
    };

    public static string About(Reminder reminder) => $"about: {Words.Within(Words.Of(reminder.Step))}, due {Words.Date(reminder.DueOn)}";

    public static string QueuedAgain(bool queued) =>
        queued ? "The reminder is queued again." : "It was not in the list of failed reminders any more.";
}
