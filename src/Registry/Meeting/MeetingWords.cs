using Registry.Ui;

namespace Registry.Meeting;

/// <summary>What the page of a meeting says.</summary>
public static class MeetingWords
{
    public const string Lead =
        "What to talk about once a week: who was lost to follow-up, what nobody took on, who did not come, what waits, and what went well. "
            + "Names are for this meeting only; take the paper back and shred it.";

    public const string Explained =
        "Newly lost to follow-up: lost to follow-up or documentation in the survey's sense, by the rules on a day of the week, and still "
            + "at its end. Lost before: by the rules on an earlier day, but not known to be until this week, since it was told late or the "
            + "rules changed. Found again: not lost any more because the step is done or under way. Diagnosed in time: what is known "
            + "now, and was known by the end. A refer is not a diagnosis; a pass does not exclude later hearing loss.";

    public const string NoNews = "Nobody.";

    public const string RowsOfThen = "Rows of a past day have no list here: they may be settled since.";

    /// <summary>By which rules, and what is known of it.</summary>
    public static string AsKnown(MeetingPapers papers) =>
        $"By the rules of policy {papers.Policy.Version}, as known at the end of {Words.Date(papers.Week.Through)}."
            + (papers.Policy.EffectiveFrom >= papers.Week.From
                ? $" These rules came into force in this week, on {Words.Date(papers.Policy.EffectiveFrom)}." : "")
            + (papers.KnownSince is { } first && first >= papers.Week.From
                ? $" Who was lost to follow-up is kept night by night since {Words.Date(first)}: what was before is as known that night."
                : "");

    public static string Before(int count) => $"(at the end of the week before {Words.Count(count)})";

    public static string Of(MeetingTopic topic) => topic switch
    {
        MeetingTopic.NewlyLost => "Newly lost to follow-up",
        MeetingTopic.LostBefore => "Lost to follow-up before, known since this week",
        MeetingTopic.HandOffOverdue => "Hand-offs not acknowledged in time",
        MeetingTopic.AppointmentMissed => "Appointments missed",
        MeetingTopic.FoundAgain => "Found again",
        _ => "Diagnosed in time",
    };

    /// <summary>What the day of a line is.</summary>
    public static string Day(MeetingTopic topic) => topic switch
    {
        MeetingTopic.NewlyLost or MeetingTopic.LostBefore => "Lost to follow-up since",
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
