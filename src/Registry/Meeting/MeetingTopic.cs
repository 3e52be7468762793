namespace Registry.Meeting;

/// <summary>What a team talks about once a week, infant by infant.</summary>
public enum MeetingTopic
{
    /// <summary>Became lost in the week by the rules, and still was at its end.</summary>
    NewlyLost,

    /// <summary>Was lost before, and not known to be until this week.</summary>
    LostBefore,

    /// <summary>A hand-off nobody acknowledged by the day it was asked for.</summary>
    HandOffOverdue,

    /// <summary>The family did not come to an appointment of the week.</summary>
    AppointmentMissed,

    /// <summary>Lost before, and the step is done or under way again.</summary>
    FoundAgain,

    /// <summary>A diagnosis that was concluded in the week, and in time.</summary>
    DiagnosedInTime,
}

/// <summary>The days a meeting is about: from Monday to the day it is held, or to the Sunday of a past week.</summary>
public readonly record struct MeetingWeek(DateOnly From, DateOnly Through)
{
    public static MeetingWeek Of(DateOnly day) => new(day.AddDays(-(((int)day.DayOfWeek + 6) % 7)), day);

    /// <summary>The last day of the week before.</summary>
    public DateOnly Before => From.AddDays(-1);

    /// <summary>The last day of the week after, at most today; null in the week of today.</summary>
    public DateOnly? After(DateOnly today) => From.AddDays(7) > today ? null : From.AddDays(13) < today ? From.AddDays(13) : today;
}
