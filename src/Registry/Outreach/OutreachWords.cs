namespace Registry.Outreach;

/// <summary>What the page of reminders says after a decision.</summary>
public static class OutreachWords
{
    public static string QueuedAgain(bool queued) =>
        queued ? "The reminder is queued again." : "It was not in the list of failed reminders any more.";
}
