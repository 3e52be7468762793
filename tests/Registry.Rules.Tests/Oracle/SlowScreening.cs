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
/// both ears in one session), JCIH 2007 (an OAE does not clear an ABR refer); stages and sessions are common practice without one.
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

    public static SlowScreening Of(KnownFacts known)
    {
        var counting = new SlowScreening(null, null, null, null, 0, false, false);
        var used = new List<ScreeningTest>();
        var birthAdmissionWasValid = false;
        foreach (var session in Sessions(known))
        {
            if (known.FirstVisit < OnDay(session[0]) && counting.Refers) break;
            used.AddRange(session);
            counting = counting.After(session, known, ref birthAdmissionWasValid);
        }

        return counting with
        {
            Used = [.. used],
            NotPerformed = known.Tests.Length > 0 && known.Tests[^1].Outcome == ScreeningOutcome.NotPerformed ? known.Tests[^1] : null,
        };
    }

    private static List<List<ScreeningTest>> Sessions(KnownFacts known)
    {
        var sessions = new List<List<ScreeningTest>>();
        foreach (var test in known.Tests.Where(t => t.Outcome != ScreeningOutcome.NotPerformed))
        {
            if (sessions.LastOrDefault() is [var first, ..] session && first.SiteId == test.SiteId
                && InBirthAdmission(known, first) == InBirthAdmission(known, test)
                && test.PerformedAt - first.PerformedAt <= TimeSpan.FromHours(known.Policy.SessionHours)) session.Add(test);
            else sessions.Add([test]);
        }

        return sessions;
    }

    internal static bool InBirthAdmission(KnownFacts known, ScreeningTest test)
    {
        var (birth, policy) = (known.All.Birth, known.Policy);
        if (policy.TrustReportedStage && test.Stage != ScreeningStage.Unstated) return test.Stage == ScreeningStage.BirthAdmission;
        if ((birth.DischargedOn ?? birth.NicuDischargedOn) is { } end) return OnDay(test) <= end;
        if (birth.NicuAdmittedOn is not null) return true;
        if (birth.Place == BirthPlace.Home) return false;
        var hours = birth.Time is { } time
            ? (test.PerformedAt - known.Born.ToDateTime(time)).TotalHours
            : 24 * (OnDay(test).DayNumber - known.Born.DayNumber);
        return hours <= policy.BirthAdmissionHours;
    }

    /// <summary>What counts after one more session.</summary>
    private SlowScreening After(List<ScreeningTest> session, KnownFacts known, ref bool birthAdmissionWasValid)
    {
        var (right, blockedRight) = InSession(session, Ear.Right, Right, known.Policy);
        var (left, blockedLeft) = InSession(session, Ear.Left, Left, known.Policy);
        var same = this with { OaeAfterAbr = OaeAfterAbr || blockedRight || blockedLeft };
        if (right is null && left is null) return same;

        var inBirthAdmission = InBirthAdmission(known, session[0]);
        var rescreen = !inBirthAdmission && (birthAdmissionWasValid || CompleteOn is not null);
        var combine = rescreen ? known.Policy.CombineEarsAcrossRescreens : known.Policy.CombineEarsInInitialScreen;
        birthAdmissionWasValid |= inBirthAdmission;
        var both = right is not null && left is not null;
        var lastValidOn = OnDay(session.Last(Valid));
        bool Counts(Said? said) => said is { } s && (both || combine || !s.Pass);
        var next = same with
        {
            Right = Counts(right) ? right : Right,
            Left = Counts(left) ? left : Left,
            LastBothOn = both ? lastValidOn : LastBothOn,
            Rescreens = Rescreens + (rescreen && both && !Passed ? 1 : 0),
            OneEarOnly = !(rescreen && both) && (OneEarOnly || rescreen && !combine),
        };
        return next with { CompleteOn = CompleteOn ?? (next.Complete ? lastValidOn : null) };
    }

    /// <summary>The last valid result of an ear in a session; an OAE pass after an ABR refer is taken as that refer.</summary>
    private static (Said? Result, bool OaeAfterAbr) InSession(List<ScreeningTest> session, Ear ear, Said? counting, Policy policy)
    {
        Said? last = null;
        var blocked = false;
        foreach (var said in session.Where(t => t.Ear == ear && Valid(t)).Select(Said.By))
        {
            var clears = policy.OaeMayClearAbrRefer || said != new Said(true, "OAE") || (last ?? counting) != new Said(false, "ABR");
            last = clears ? said : new Said(false, "ABR");
            blocked |= !clears;
        }

        return (last, blocked);
    }

    private EarResult ResultOf(Ear ear, Said? counting) =>
        counting is { } said ? said.Pass ? EarResult.Pass : EarResult.Refer
        : Used.Any(t => t.Ear == ear) ? EarResult.NoValidResult
        : EarResult.NotScreened;
}
