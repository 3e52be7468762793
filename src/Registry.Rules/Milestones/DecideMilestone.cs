using Registry.Rules.Facts;

namespace Registry.Rules.Milestones;

/// <summary>
/// One milestone: done in time is met, done later is late. Not done: an absence that began on or before the deadline
/// excludes it; after the deadline it is missed, whatever happened later; before, it is pending.
/// </summary>
internal static class DecideMilestone
{
    /// <param name="step">Which milestone: screened, diagnosed, enrolled.</param>
    /// <param name="born">Ages in the reason are days after this date.</param>
    /// <param name="deadlineOn">Last day in time.</param>
    /// <param name="doneOn">The day it was done, if it was.</param>
    /// <param name="absent">Why it is not asked, if it is not.</param>
    /// <param name="started">Something was attempted.</param>
    /// <param name="day">The as-of day.</param>
    /// <param name="doubt">What must be said in the same breath as that it was done.</param>
    /// <param name="showed">And what it showed (<see cref="Showed"/>).</param>
    public static Milestone Decide(PathStep step, DateOnly born, DateOnly deadlineOn, DateOnly? doneOn, AbsentSince absent, bool started,
        ref Day day, int doubt = Doubt.None, int showed = Showed.Nothing)
    {
        ref readonly var say = ref Words[(int)step];
        var deadlineDay = Age.Days(born, deadlineOn);
        if (doneOn is { } done)
        {
            var inTime = done <= deadlineOn;
            return new(inTime ? MilestoneState.Met : MilestoneState.Late, deadlineOn, done,
                new Sentence((inTime ? say.MetThen : say.LateThen)[showed * Doubt.Words.Length + doubt],
                    Age.Days(born, done), deadlineDay));
        }

        if (!absent.IsNone && absent.On <= deadlineOn)
            return new(MilestoneState.Excluded, deadlineOn, null, new Sentence(
                Excluded[(int)absent.Kind], Age.Days(born, absent.On), deadlineDay));

        if (day.Past(deadlineOn))
        {
            return absent.IsNone
                ? new(MilestoneState.Missed, deadlineOn, null, new Sentence(started ? say.MissedStarted : say.Missed, deadlineDay))
                : new(MilestoneState.Missed, deadlineOn, null,
                    new Sentence(say.MissedThenAbsent[(int)absent.Kind], deadlineDay, Age.Days(born, absent.On)));
        }

        return new(MilestoneState.Pending, deadlineOn, null, new Sentence(started ? say.PendingStarted : say.Pending, deadlineDay));
    }

    public static Milestone NotRequired(DateOnly deadlineOn, string why) =>
        new(MilestoneState.NotRequired, deadlineOn, null, new Sentence(why));

    private static readonly string[] Excluded =
    [
        "",
        "excluded: died on day {0}, deadline was day {1}",
        "excluded: left the region on day {0}, deadline was day {1}",
        "excluded: adopted on day {0}, deadline was day {1}",
        "excluded: the family declined on day {0}, deadline was day {1}; this can be taken back",
        "excluded: went straight to diagnostic evaluation on day {0}, deadline was day {1}",
        "excluded: not eligible for early intervention, decided on day {0}, deadline was day {1}",
    ];

    private static readonly string[] Then =
    [
        "", "died on day {1}", "left the region on day {1}", "adopted on day {1}", "the family declined on day {1}",
        "diagnostic evaluation began on day {1}", "found not eligible on day {1}",
    ];

    private sealed record StepWords(string Met, string Late, string Missed, string MissedStarted, string Pending, string PendingStarted)
    {
        public string[] MissedThenAbsent { get; } = [.. DecideMilestone.Then.Select(then => $"{Missed}; {then}")];

        /// <summary>By <see cref="Showed"/>, then <see cref="Doubt"/>.</summary>
        public string[] MetThen { get; } = Then(Met);
        public string[] LateThen { get; } = Then(Late);

        private static string[] Then(string said) =>
            [.. from showed in Showed.Words from doubt in Doubt.Words select said + showed + doubt];
    }

    private static readonly StepWords[] Words =
    [
        new("met: first complete screen on day {0}, deadline was day {1}",
            "not met: first complete screen on day {0}, deadline was day {1}",
            "not met: no complete screen by the deadline, day {0}",
            "not met: attempted, but not both ears had a result that counts by the deadline, day {0}",
            "pending: not screened yet, deadline is day {0}",
            "pending: attempted, but not both ears have a result that counts yet, deadline is day {0}"),
        new("met: diagnosis complete on day {0}, deadline was day {1}",
            "not met: diagnosis complete on day {0}, deadline was day {1}",
            "not met: no diagnosis by the deadline, day {0}",
            "not met: evaluation begun, but no final diagnosis by the deadline, day {0}",
            "pending: no diagnostic evaluation yet, deadline is day {0}",
            "pending: evaluation begun, final diagnosis open, deadline is day {0}"),
        new("met: in early intervention on day {0}, deadline was day {1}",
            "not met: in early intervention on day {0}, deadline was day {1}",
            "not met: not in early intervention by the deadline, day {0}",
            "not met: referred, but not in early intervention by the deadline, day {0}",
            "pending: not referred to early intervention yet, deadline is day {0}",
            "pending: referred, not enrolled in early intervention yet, deadline is day {0}"),
    ];
}

/// <summary>What a step that was done has shown by now.</summary>
internal static class Showed
{
    public const int Nothing = 0;

    public static readonly string[] Words =
    [
        "",
        "; result by now: pass, both ears",
        "; result by now: refer, one ear",
        "; result by now: refer, both ears",
        "; found: normal hearing",
        "; found: hearing loss, not permanent",
        "; found: permanent hearing loss",
    ];

    public static int Of(ScreeningConclusion conclusion) => conclusion switch
    {
        ScreeningConclusion.Passed => 1,
        ScreeningConclusion.ReferredOneEar => 2,
        ScreeningConclusion.ReferredBothEars => 3,
        _ => Nothing,
    };

    public static int Of(HearingConclusion hearing) => hearing switch
    {
        HearingConclusion.Normal => 4,
        HearingConclusion.NonPermanentLoss => 5,
        HearingConclusion.PermanentLoss => 6,
        _ => Nothing,
    };
}

/// <summary>What takes from a step that was done some of its certainty.</summary>
internal static class Doubt
{
    public const int None = 0, OaeOnlyInNicu = 1, AbrTooEarly = 2, Provisional = 3;

    public static readonly string[] Words =
    [
        "",
        "; but by OAE alone after a long NICU stay, which can miss a neural hearing loss",
        "; but by ABR at a post-menstrual age at which it is not reliable yet",
        "; on a provisional hearing loss, the diagnosis is to be confirmed",
    ];

    /// <summary>Of a screen.</summary>
    public static int Of(StatusFlags flags) =>
        (flags & StatusFlags.OaeOnlyInNicu) != 0 ? OaeOnlyInNicu : (flags & StatusFlags.AbrBeforeReliableAge) != 0 ? AbrTooEarly : None;
}
