using Registry.Rules.Facts;
using static Registry.Rules.Tests.Oracle.KnownFacts;

namespace Registry.Rules.Tests.Oracle;

/// <summary>A valid result of an ear, and by which technology.</summary>
internal readonly record struct Said(bool Pass, string Technology)
{
    public static string TechnologyOf(ScreeningMethod m) =>
        m.ToString().Contains("oae", StringComparison.OrdinalIgnoreCase) ? "OAE"
        : m.ToString().EndsWith("abr", StringComparison.OrdinalIgnoreCase) ? "ABR"
        : "?";

    public static Said By(ScreeningTest test) => new(test.Outcome == ScreeningOutcome.Pass, TechnologyOf(test.Method));
}

/// <summary>
/// Sections 2 and 3: tests become sessions, and sessions one after another say what counts. Sources: JCIH 2019 (a valid rescreen of
/// both ears in one session, and one of them), JCIH 2007 (an OAE does not clear an ABR refer); stages and sessions are common practice
/// without one.
/// </summary>
internal sealed record SlowScreening(
    Said? Right, Said? Left, DateOnly? CompleteOn, DateOnly? LastBothOn, int Rescreens, bool OneEarOnly, bool OaeAfterAbr)
{
    /// <summary>Every attempt of the sessions that count.</summary>
    public ScreeningTest[] Used { get; init; } = [];

    /// <summary>The last word, when it was that nothing was performed.</summary>
    public ScreeningTest? NotPerformed { get; init; }

    public bool Refers => Right is { Pass: false } || Left is { Pass: false };
    public bool Complete => Right is not null && Left is not null;
    public bool Passed => Complete && !Refers;
    /// <summary>The test behind what counts of an ear, where ABR gave it: too early after conception it is not reliable yet.</summary>
    public ScreeningTest? RightBy { get; init; }
    public ScreeningTest? LeftBy { get; init; }

    /// <summary>The day of the screen that decided.</summary>
    public DateOnly? DecidedOn { get; init; }

    /// <summary>Since when it has not passed: an ear refers.</summary>
    public DateOnly? RefersSince { get; init; }

    /// <summary>Those of sessions of the birth admission: the stage of a session is that of its first test.</summary>
    public ScreeningTest[] UsedAtBirth { get; init; } = [];
    public EarResult RightResult => ResultOf(Ear.Right, Right);
    public EarResult LeftResult => ResultOf(Ear.Left, Left);

    public ScreeningConclusion Conclusion =>
        Passed ? ScreeningConclusion.Passed
        : Complete ? RightResult == LeftResult ? ScreeningConclusion.ReferredBothEars : ScreeningConclusion.ReferredOneEar
        : Used.Length > 0 ? ScreeningConclusion.Incomplete
        : ScreeningConclusion.NotScreened;

    /// <summary>An attempt was not performed for this reason, and nothing was attempted after it.</summary>
    public bool NotPerformedFor(ScreeningReason reason) => NotPerformed?.Reason == reason;

    public ScreeningOutcome? LastAbr(Ear ear) => Used.Where(t => t.Ear == ear && Said.TechnologyOf(t.Method) == "ABR" && Valid(t))
        .Select(t => (ScreeningOutcome?)t.Outcome).LastOrDefault();

    public DateOnly? LastAbrOn(Ear ear) => Used.Where(t => t.Ear == ear && Said.TechnologyOf(t.Method) == "ABR" && Valid(t))
        .Select(t => (DateOnly?)OnDay(t)).LastOrDefault();

    public static SlowScreening Of(KnownFacts known)
    {
        var counting = new SlowScreening(null, null, null, null, 0, false, false);
        var (used, attemptsAtBirth) = (new List<ScreeningTest>(), new List<ScreeningTest>());
        var birthAdmissionWasValid = false;
        foreach (var session in Sessions(known))
        {
            if (known.FirstVisit < OnDay(session[0]) && counting.Refers) break;
            used.AddRange(session);
            if (InBirthAdmission(known, session[0])) attemptsAtBirth.AddRange(session);
            counting = counting.After(session, known, ref birthAdmissionWasValid);
        }

        return counting with
        {
            Used = [.. used],
            UsedAtBirth = [.. attemptsAtBirth],
            NotPerformed = known.Tests.Length > 0 && known.Tests[^1].Outcome == ScreeningOutcome.NotPerformed ? known.Tests[^1] : null,
        };
    }

    private static List<List<ScreeningTest>> Sessions(KnownFacts known)
    {
        var sessions = new List<List<ScreeningTest>>();
        foreach (var test in known.Tests.Where(t => t.Outcome != ScreeningOutcome.NotPerformed))
        {
            // One sitting is never split: some hours from the first test, or some minutes from the one before.
            if (sessions.LastOrDefault() is [var first, ..] session && first.SiteId == test.SiteId
                && (known.Hours(first.PerformedAt, test.PerformedAt) <= known.Policy.SessionHours
                    || known.Hours(session[^1].PerformedAt, test.PerformedAt) * 60 <= known.Policy.SittingMinutes)) session.Add(test);
            else sessions.Add([test]);
        }

        return sessions;
    }

    internal static bool InBirthAdmission(KnownFacts known, ScreeningTest test)
    {
        var (birth, policy) = (known.All.Birth, known.Policy);
        if (policy.TrustReportedStage && test.Stage != ScreeningStage.Unstated) return test.Stage == ScreeningStage.BirthAdmission;
        if (known.Stay.Ended is { } end) return OnDay(test) <= end;
        if (known.Stay.OpenSince is { } since) return OnDay(test).DayNumber - since.DayNumber <= policy.InpatientDays;
        if (birth.Place == BirthPlace.Home) return false;
        var hours = birth.Time is { } time
            ? known.Hours(known.Born.ToDateTime(time), test.PerformedAt)
            : 24 * (OnDay(test).DayNumber - known.Born.DayNumber);
        return hours <= policy.BirthAdmissionHours;
    }

    /// <summary>What counts after one more session.</summary>
    private SlowScreening After(List<ScreeningTest> session, KnownFacts known, ref bool birthAdmissionWasValid)
    {
        var (right, byRight, blockedRight) = InSession(session, Ear.Right, Right, RightBy, known.Policy);
        var (left, byLeft, blockedLeft) = InSession(session, Ear.Left, Left, LeftBy, known.Policy);
        var same = this with { OaeAfterAbr = OaeAfterAbr || blockedRight || blockedLeft };
        if (right is null && left is null) return same;

        var inBirthAdmission = InBirthAdmission(known, session[0]);
        var rescreen = !inBirthAdmission && (birthAdmissionWasValid || CompleteOn is not null);
        birthAdmissionWasValid |= inBirthAdmission;
        var both = right is not null && left is not null;

        // JCIH 2019: one rescreen. A later one may find, but not clear.
        var oneTooMany = rescreen && Refers && Rescreens >= known.Policy.MaxRescreens && !known.Policy.FurtherRescreenMayClear;
        var (rightStays, leftStays) = (oneTooMany && right is { Pass: true } && Right is { Pass: false },
            oneTooMany && left is { Pass: true } && Left is { Pass: false });

        // The both-ears rule is for infants who did not pass: beside a passed ear, the one that had no result may come alone.
        var onlyTheMissing = right is not null ? Right is null && Left is { Pass: true } : Left is null && Right is { Pass: true };
        var combine = rescreen ? known.Policy.CombineEarsAcrossRescreens || onlyTheMissing : known.Policy.CombineEarsInInitialScreen;
        var lastValidOn = OnDay(session.Last(Valid));
        bool Counts(Said? said, bool stays) => said is { } s && !stays && (both || combine || !s.Pass);
        var next = same with
        {
            Right = Counts(right, rightStays) ? right : Right,
            Left = Counts(left, leftStays) ? left : Left,
            RightBy = Counts(right, rightStays) ? byRight : RightBy,
            LeftBy = Counts(left, leftStays) ? byLeft : LeftBy,
            LastBothOn = both ? lastValidOn : LastBothOn,
            Rescreens = Rescreens + (rescreen && both && !Passed ? 1 : 0),
            OneEarOnly = !(rescreen && both) && (OneEarOnly || rescreen && !combine),
        };
        var changed = next.Right?.Pass != Right?.Pass || next.Left?.Pass != Left?.Pass;
        return next with
        {
            CompleteOn = CompleteOn ?? (next.Complete ? lastValidOn : null),
            DecidedOn = next.Complete && (both && !oneTooMany || changed) ? lastValidOn : DecidedOn,
            RefersSince = next.Refers ? RefersSince ?? lastValidOn : null,
        };
    }

    /// <summary>The last valid result of an ear in a session; an OAE pass after an ABR refer is taken as that refer.</summary>
    private static (Said? Result, ScreeningTest? By, bool OaeAfterAbr) InSession(
        List<ScreeningTest> session, Ear ear, Said? counting, ScreeningTest? countingBy, Policy policy)
    {
        Said? last = null;
        ScreeningTest? by = null;
        var blocked = false;
        foreach (var test in session.Where(t => t.Ear == ear && Valid(t)))
        {
            var said = Said.By(test);
            var clears = policy.OaeMayClearAbrRefer || said != new Said(true, "OAE") || (last ?? counting) != new Said(false, "ABR");
            by = clears ? test : last is null ? countingBy : by;
            last = clears ? said : new Said(false, "ABR");
            blocked |= !clears;
        }

        return (last, by, blocked);
    }

    private EarResult ResultOf(Ear ear, Said? counting) =>
        counting is { } said ? said.Pass ? EarResult.Pass : EarResult.Refer
        : Used.Any(t => t.Ear == ear) ? EarResult.NoValidResult
        : EarResult.NotScreened;
}
