using Registry.Ui;

namespace Registry.Meeting;

/// <summary>What the page of a meeting says.</summary>
public static class MeetingWords
{
    public const string Lead =
        "What to talk about once a week: who was lost to follow-up, what nobody took on, who did not come, what waits, and what went well. "
            + "Names are for this meeting only; take the paper back and shred it.";

    public const string Explained =
        "As it stood at the end of the day; a diagnosis is as known now. Newly lost to follow-up: lost to follow-up or documentation in "
            + "the survey's sense, found out in the week. Found again: not lost any more because the step is done or under way. A refer "
            + "is not a diagnosis; a pass does not exclude later hearing loss.";

    public const string NoNews = "Nobody.";

    public const string RowsOfToday = "Rows that wait are counted today only.";

    public static string Of(MeetingTopic topic) => topic switch
    {
        MeetingTopic.NewlyLost => "Newly lost to follow-up",
        MeetingTopic.HandOffOverdue => "Hand-offs not acknowledged in time",
        MeetingTopic.AppointmentMissed => "Appointments missed",
        MeetingTopic.FoundAgain => "Found again",
        _ => "Diagnosed in time",
    };

    /// <summary>What the day of a line is.</summary>
    public static string Day(MeetingTopic topic) => topic switch
    {
        MeetingTopic.NewlyLost => "Lost to follow-up since",
        MeetingTopic.HandOffOverdue => "Asked for by",
        MeetingTopic.AppointmentMissed => "Appointment",
        MeetingTopic.FoundAgain => "Found on",
        _ => "Diagnosed on",
    };

    public static bool IsGoodNews(MeetingTopic topic) => topic is MeetingTopic.FoundAgain or MeetingTopic.DiagnosedInTime;

    public static string Name(TopicLine line) => line.Mother.Length > 0 ? line.Mother
        : line.Child.Length > 0 ? line.Child : line.RecordNumber ?? "No name or number";

    /// <summary>Child, birth date and number, as far as they are known.</summary>
    public static string Beneath(TopicLine line) => string.Join(", ", new[]
    {
        line.Mother.Length > 0 && line.Child.Length > 0 ? "child " + line.Child : null,
        line.BornOn is { } born ? "born " + Words.Date(born) : null,
        line.RecordNumber,
    }.OfType<string>());

    public static string More(int more) => $"and {Words.Count(more)} more";
}
