using Registry.Rules.Facts;

namespace Registry.Rules.Screening;

/// <summary>The two technologies: they answer different questions, so one may not always replace the other.</summary>
internal enum Technology { Unknown, Oae, Abr }

/// <summary>What counts for one ear so far.</summary>
internal struct EarStanding
{
    /// <summary>Null until a result counts.</summary>
    public ScreeningOutcome? Result;
    public Technology By;

    /// <summary>The test whose result counts, by its index among the facts.</summary>
    public int Test;
    public bool Attempted;

    /// <summary>The last valid ABR-based result, whether or not it counts.</summary>
    public ScreeningOutcome? LastAbr;

    /// <summary>Valid attempts in the birth admission, by technology.</summary>
    public int OaeAttempts, AbrAttempts, OtherAttempts;

    public readonly bool Refers => Result == ScreeningOutcome.Refer;
    public readonly bool OaeOnlyPass => Result == ScreeningOutcome.Pass && By == Technology.Oae && LastAbr != ScreeningOutcome.Pass;

    public readonly EarResult ToResult() => Result switch
    {
        ScreeningOutcome.Pass => EarResult.Pass,
        ScreeningOutcome.Refer => EarResult.Refer,
        _ => Attempted ? EarResult.NoValidResult : EarResult.NotScreened,
    };
}

/// <summary>What the screening tests say.</summary>
internal struct ScreeningOutcomeOfInfant
{
    public EarStanding Right, Left;

    /// <summary>The day both ears first had a result that counts.</summary>
    public DateOnly? CompleteOn;

    /// <summary>The last day of a session in which both ears had a valid result.</summary>
    public DateOnly? LastBothEarsOn;

    /// <summary>Rescreens of both ears of an infant who had not passed.</summary>
    public int CompleteRescreens;
    public StatusFlags Flags;

    /// <summary>Why the last screen was not performed, when nothing was attempted after it.</summary>
    public ScreeningReason NotPerformed;
    public DateOnly NotPerformedOn;

    public readonly bool Refers => Right.Refers || Left.Refers;
    public readonly ScreeningConclusion Conclusion =>
        Right.Result is null || Left.Result is null
            ? Right.Attempted || Left.Attempted ? ScreeningConclusion.Incomplete : ScreeningConclusion.NotScreened
            : (Right.Refers, Left.Refers) switch
            {
                (true, true) => ScreeningConclusion.ReferredBothEars,
                (false, false) => ScreeningConclusion.Passed,
                _ => ScreeningConclusion.ReferredOneEar,
            };
}

/// <summary>
/// From tests to one result per ear. Sessions are walked in time order. In the initial screen (the birth admission; or,
/// when that gave no valid result, the outpatient sessions up to the first complete screen) the last valid result of each
/// ear counts. A rescreen replaces it only when both ears had a valid result in one session; a rescreen of one ear can
/// refer, but not clear. Screening is over once an infant who referred has begun diagnostic evaluation.
/// </summary>
internal static class ConcludeScreening
{
    /// <param name="facts">All facts.</param>
    /// <param name="policy">The policy.</param>
    /// <param name="evaluatedFrom">First day of diagnostic evaluation.</param>
    /// <param name="day">The as-of day.</param>
    /// <param name="notes">Empty, or one per test, filled with what became of it.</param>
    public static ScreeningOutcomeOfInfant From(
        InfantFacts facts, Policy policy, DateOnly? evaluatedFrom, ref Day day, Span<TestNote> notes = default)
    {
        var found = new ScreeningOutcomeOfInfant();
        var tests = facts.Tests;
        if (tests.Length == 0) return found;

        Span<int> order = tests.Length <= 64 ? stackalloc int[tests.Length] : new int[tests.Length];
        OrderTests.ByTime(tests, order);

        var (rightNow, leftNow) = (new EarNow(), new EarNow());
        var (sessionStart, sessionSite, sessionStage) = (DateTime.MinValue, (Guid?)null, ScreeningStage.Unstated);
        var (inSession, over, birthAdmissionWasValid, firstValid) = (false, false, false, true);
        var (lastValidOn, session) = (DateOnly.MinValue, 0);

        foreach (var index in order)
        {
            ref readonly var test = ref tests[index];
            var testedOn = DateOnly.FromDateTime(test.PerformedAt);
            if (!day.Reached(testedOn)) break;
            if (testedOn < facts.Birth.Date)
            {
                found.Flags |= StatusFlags.FactsConflict;
                if (!notes.IsEmpty) notes[index] = new(TestUse.BeforeBirth, ScreeningStage.Unstated, 0);
                continue;
            }

            if (facts.DiedOn is { } died && testedOn > died && day.Reached(died)) found.Flags |= StatusFlags.FactsConflict;

            if (test.Outcome == ScreeningOutcome.NotPerformed)
            {
                found.NotPerformed = test.Reason;
                found.NotPerformedOn = testedOn;
                if (!notes.IsEmpty) notes[index] = new(TestUse.NotPerformed, ScreeningStage.Unstated, 0);
                continue;
            }

            var stage = DeriveStage.Of(test, facts.Birth, policy);
            if (!inSession || stage != sessionStage || test.SiteId != sessionSite
                || test.PerformedAt > sessionStart.AddHours(policy.SessionHours))
            {
                if (inSession) CloseSession(ref found, notes);
                session++;
                over = over || testedOn > evaluatedFrom && found.Refers;
                (inSession, sessionStart, sessionSite, sessionStage) = (true, test.PerformedAt, test.SiteId, stage);
                (rightNow, leftNow) = (new EarNow(), new EarNow());
            }

            found.NotPerformed = ScreeningReason.None;
            var use = TestUse.AfterEvaluation;
            if (!over)
                use = test.Ear == Ear.Right
                    ? Apply(test, index, ref found.Right, ref rightNow, ref found.Flags)
                    : Apply(test, index, ref found.Left, ref leftNow, ref found.Flags);
            if (!notes.IsEmpty) notes[index] = new(use, stage, session);
        }

        if (inSession) CloseSession(ref found, notes);
        if (!notes.IsEmpty)
        {
            if (found.Right.Result is not null) notes[found.Right.Test] = notes[found.Right.Test] with { Use = TestUse.Counts };
            if (found.Left.Result is not null) notes[found.Left.Test] = notes[found.Left.Test] with { Use = TestUse.Counts };
        }

        if (Exceeds(found.Right) || Exceeds(found.Left)) found.Flags |= StatusFlags.OverScreened;
        if (found.CompleteRescreens > policy.MaxRescreens) found.Flags |= StatusFlags.RescreenedTooOften;
        return found;

        bool Exceeds(in EarStanding ear) =>
            Math.Max(ear.OaeAttempts, Math.Max(ear.AbrAttempts, ear.OtherAttempts)) > policy.MaxValidAttempts;

        TestUse Apply(in ScreeningTest test, int index, ref EarStanding standing, ref EarNow now, ref StatusFlags flags)
        {
            standing.Attempted = true;
            if (test.Outcome == ScreeningOutcome.NoValidResult) return TestUse.NoValidResult;

            var by = TechnologyOf(test.Method);
            lastValidOn = DateOnly.FromDateTime(test.PerformedAt);
            if (firstValid && IsEarly(test, by)) flags |= StatusFlags.ScreenedEarly;
            firstValid = false;
            if (sessionStage == ScreeningStage.BirthAdmission)
            {
                if (by == Technology.Oae) standing.OaeAttempts++;
                else if (by == Technology.Abr) standing.AbrAttempts++;
                else standing.OtherAttempts++;
            }

            if (by == Technology.Abr) standing.LastAbr = test.Outcome;
            var before = now.Result is null ? new EarNow(standing.Result, standing.By, standing.Test) : now;
            if (!policy.OaeMayClearAbrRefer && test.Outcome == ScreeningOutcome.Pass && by == Technology.Oae
                && before.Result == ScreeningOutcome.Refer && before.By == Technology.Abr)
            {
                flags |= StatusFlags.OaeAfterAbrRefer;
                now = before;
                return TestUse.OaeAfterAbrRefer;
            }

            now = new EarNow(test.Outcome, by, index);
            return TestUse.Replaced;
        }

        bool IsEarly(in ScreeningTest test, Technology by)
        {
            var least = by == Technology.Abr ? policy.EarliestAbrHours : policy.EarliestOaeHours;
            return facts.Birth.Time is { } time && test.PerformedAt < facts.Birth.Date.ToDateTime(time).AddHours(least);
        }

        void CloseSession(ref ScreeningOutcomeOfInfant found, Span<TestNote> notes)
        {
            if (rightNow.Result is null && leftNow.Result is null) return;
            var complete = found.CompleteOn is not null;
            var passed = complete && !found.Refers;
            var rescreen = sessionStage == ScreeningStage.OutpatientRescreen && (birthAdmissionWasValid || complete);
            if (sessionStage == ScreeningStage.BirthAdmission) birthAdmissionWasValid = true;
            if (rightNow.Result is not null && leftNow.Result is not null)
            {
                Count(ref found.Right, rightNow);
                Count(ref found.Left, leftNow);
                found.LastBothEarsOn = lastValidOn;
                if (rescreen)
                {
                    if (!passed) found.CompleteRescreens++;
                    found.Flags &= ~StatusFlags.RescreenNotBothEars;
                }
            }
            else
            {
                var combine = rescreen ? policy.CombineEarsAcrossRescreens : policy.CombineEarsInInitialScreen;
                ref readonly var now = ref rightNow.Result is null ? ref leftNow : ref rightNow;
                if (combine || now.Result == ScreeningOutcome.Refer)
                    Count(ref rightNow.Result is null ? ref found.Left : ref found.Right, now);
                else if (!notes.IsEmpty)
                    notes[now.Test] = notes[now.Test] with { Use = TestUse.OneEarOnly };
                if (rescreen && !combine) found.Flags |= StatusFlags.RescreenNotBothEars;
            }

            if (!complete && found.Right.Result is not null && found.Left.Result is not null) found.CompleteOn = lastValidOn;
        }

        static void Count(ref EarStanding standing, in EarNow now) =>
            (standing.Result, standing.By, standing.Test) = (now.Result, now.By, now.Test);
    }

    public static Technology TechnologyOf(ScreeningMethod method) => method switch
    {
        ScreeningMethod.Oae or ScreeningMethod.Teoae or ScreeningMethod.Dpoae => Technology.Oae,
        ScreeningMethod.Aabr or ScreeningMethod.Abr => Technology.Abr,
        _ => Technology.Unknown,
    };

    /// <summary>The result of one ear in the session being walked.</summary>
    private readonly record struct EarNow(ScreeningOutcome? Result, Technology By, int Test);
}
