using Registry.Rules.Chance;
using Registry.Rules.Facts;

namespace Registry.Rules.Work;

/// <summary>
/// Says where an infant stands in the work of following up. In exactly one place, the first of these that holds:
/// an appointment is booked; one has passed and its result is not known; the work was closed and nothing came since; a later day to call
/// was set; the infant was handed off and the
/// receipt is waited for, or what comes of it; a later day to call follows from the last try; a hand-off was not acknowledged in its time
/// and nobody tried since (lost, it is searched for); the infant is lost, and its family was not reached lately (searched for, it is called
/// about when that brought a way to, else it waits to be searched for again); only monitoring is due; the time to call has come. Else it
/// is not yet.
/// </summary>
/// <remarks>
/// The order within a place is a day: the last one on which the next milestone can still be met, moved forward by both ears, by risk
/// and, where the program uses it, by the chance of loss, and back by tries without an answer. Where nothing can be in time any more
/// the latest to pass comes first, after all the others: the longest overdue is never called first. Between equals, who was tried
/// longest ago, or never. The weights are ours (<see cref="Policy.BothEarsDays"/> and those beside it): they order calls and conclude
/// nothing about a child.
/// </remarks>
public static class SortWork
{
    /// <summary>Beyond every day that can come: where those stand for whom nothing can be in time.</summary>
    private const int Passed = 4_000_000;

    /// <summary>Above any day's number, so that the last try decides between equals only.</summary>
    private const long OneDay = 10_000_000;

    private const int MostTries = 5;

    /// <returns>Null when nothing is due.</returns>
    public static WorkPlace? Place(
        InfantFacts facts, InfantStatus status, Policy policy, DateOnly asOf, WorkDecisions decided = default, KnownChance? chance = null)
    {
        if (status.Dues.Length == 0) return null;
        var day = new Day(asOf);
        var next = status.Dues.FirstOrDefault(d => !IsMonitoring(d.Step), status.Dues[0]);
        var lastTry = LastTry(facts, ref day);
        var reasons = new List<WorkReason>();
        var (tray, standing) = Sort(facts, status, policy, next, lastTry, decided, chance, reasons, ref day);
        if (lastTry is { } tried) reasons.Add(new(WorkReasonKind.LastTry, tried.AttemptedOn));
        return new(tray, next.Step, next.DueOn, standing * OneDay + (lastTry?.AttemptedOn.DayNumber ?? 0), reasons,
            day.Next == DateOnly.MaxValue ? null : day.Next);
    }

    private static (WorkTray Tray, long Standing) Sort(InfantFacts facts, InfantStatus status, Policy policy, Due next,
        ContactAttempt? lastTry, WorkDecisions decided, KnownChance? chance, List<WorkReason> reasons, ref Day day)
    {
        var (booked, passed) = BookedWork.Find(facts, status, ref day);
        if (booked is { } on) return (WorkTray.AppointmentBooked, ByDay(WorkReasonKind.AppointmentOn, on, reasons));
        if (passed is { } since)
        {
            reasons.Add(new(WorkReasonKind.AppointmentPassed, since));
            return (WorkTray.ResultAwaited, Standing(facts, status, policy, next, chance, reasons, ref day));
        }

        if (decided.Closed is { } closed && closed.Step == WorkPlace.PathOf(next.Step) && !closed.HasNews(facts, ref day))
            return (WorkTray.Closed, ByDay(WorkReasonKind.Closed, closed.On, reasons));
        if (decided.PutOff is { } wait && !day.Reached(wait.Until))
            return (WorkTray.CallBack, ByDay(WorkReasonKind.PutOff, wait.Until, reasons));
        if (decided.HandedOff is { } handed && HandOffWaits(handed, policy, reasons, ref day) is { } until)
            return (WorkTray.CallBack, until.DayNumber);
        var unacknowledged = decided.HandedOff is { AcknowledgedOn: null } silent && !(lastTry?.AttemptedOn > silent.AcknowledgeBy);
        if (lastTry is { } tried && !unacknowledged)
        {
            var again = tried.CallAgainOn ?? tried.AttemptedOn.AddDays(IsAnswer(tried) ? policy.CallBackDays : policy.TryAgainDays);
            if (!day.Reached(again)) return (WorkTray.CallBack, ByDay(WorkReasonKind.CallAgain, again, reasons));
        }

        var tray = IsLost(status, policy, lastTry, ref day) ? WorkTray.SearchAgain
            : unacknowledged ? WorkTray.CallToday
            : !IsTime(next, policy, ref day) ? WorkTray.NotYet
            : IsMonitoring(next.Step) ? WorkTray.Monitoring : WorkTray.CallToday;
        if (tray == WorkTray.SearchAgain && decided.Searched is { } searched)
        {
            var isUntried = searched.BroughtContact && !(lastTry?.AttemptedOn > searched.On);
            var again = searched.On.AddDays(policy.SearchAgainDays);
            if (!isUntried && !day.Reached(again)) return (WorkTray.CallBack, ByDay(WorkReasonKind.SearchedFor, again, reasons));
            if (isUntried)
            {
                tray = WorkTray.CallToday;
                reasons.Add(new(WorkReasonKind.ContactFound, searched.On));
            }
        }

        if (unacknowledged) reasons.Add(new(WorkReasonKind.NotAcknowledged, decided.HandedOff!.Value.AcknowledgeBy));
        if (tray == WorkTray.SearchAgain) reasons.Add(new(WorkReasonKind.Search));
        if (BookedWork.LastNoShow(facts, ref day) is { } missed) reasons.Add(new(WorkReasonKind.NoShow, missed));
        return (tray, Standing(facts, status, policy, next, chance, reasons, ref day));
    }

    /// <summary>Until when a hand-off is waited for: its receipt to the day it was asked for; then, as after a family that was reached,
    /// what comes of it. Null: no longer.</summary>
    private static DateOnly? HandOffWaits(HandedOff handed, Policy policy, List<WorkReason> reasons, ref Day day)
    {
        var (kind, waits) = handed.AcknowledgedOn is { } on
            ? (WorkReasonKind.HandOffAcknowledged, on.AddDays(policy.CallBackDays))
            : (WorkReasonKind.HandedOff, handed.AcknowledgeBy.AddDays(1));
        if (day.Reached(waits)) return null;
        reasons.Add(new(kind, handed.AcknowledgedOn ?? handed.AcknowledgeBy));
        return waits;
    }

    private static long ByDay(WorkReasonKind kind, DateOnly on, List<WorkReason> reasons)
    {
        reasons.Add(new(kind, on));
        return on.DayNumber;
    }

    private static long Standing(
        InfantFacts facts, InfantStatus status, Policy policy, Due next, KnownChance? chance, List<WorkReason> reasons, ref Day day)
    {
        var forward = 0;
        var until = StillMet(status, ref day);
        if (until is { } milestone) reasons.Add(new(WorkReasonKind.MilestoneUntil, milestone));
        else if (!day.Past(next.DueOn)) reasons.Add(new(WorkReasonKind.StepUntil, (until = next.DueOn).Value));
        else reasons.Add(new(WorkReasonKind.PassedOn, LastPassed(status, next, ref day)));
        var stands = reasons[^1].On!.Value.DayNumber;

        if (status.Screening == ScreeningConclusion.ReferredBothEars || status.Laterality == Laterality.Bilateral)
            Move(WorkReasonKind.BothEars, policy.BothEarsDays);
        if (IsNicu(facts, policy)) Move(WorkReasonKind.Nicu, policy.RiskDays);
        if (facts.RiskIndicators.Any(r => r.Kind != RiskIndicatorKind.NicuOverFiveDays))
            Move(WorkReasonKind.RiskIndicator, policy.RiskDays);
        if (TriesInVain(facts, ref day) is > 0 and var tries)
            Move(WorkReasonKind.TriesWithoutAnswer, -policy.FruitlessTryDays * Math.Min(tries, MostTries));
        if (policy.ChanceOfLossDays > 0 && chance?.Of(facts, status, ref day) is { } likely)
        {
            Move(WorkReasonKind.ChanceOfLoss, (int)Math.Round(likely.Probability * policy.ChanceOfLossDays));
            reasons[^1] = reasons[^1] with
            {
                Percent = (int)Math.Round(100 * likely.Probability),
                Because = string.Join(' ', likely.Because.Select(f => Codes.Of(f))),
            };
        }

        return (until is null ? Passed - stands : stands) - forward;

        void Move(WorkReasonKind kind, int days)
        {
            forward += days;
            reasons.Add(new(kind, null, days));
        }
    }

    /// <summary>The soonest deadline of a milestone that is not over.</summary>
    private static DateOnly? StillMet(InfantStatus status, ref Day day)
    {
        DateOnly? soonest = null;
        foreach (var milestone in (ReadOnlySpan<Milestone>)[status.Screened, status.Diagnosed, status.Enrolled])
        {
            if (milestone.State != MilestoneState.Pending || day.Past(milestone.DeadlineOn)) continue;
            if (soonest is null || milestone.DeadlineOn < soonest) soonest = milestone.DeadlineOn;
        }

        return soonest;
    }

    private static DateOnly LastPassed(InfantStatus status, Due next, ref Day day)
    {
        var last = next.DueOn;
        foreach (var milestone in (ReadOnlySpan<Milestone>)[status.Screened, status.Diagnosed, status.Enrolled])
            if (milestone.State == MilestoneState.Missed && milestone.DeadlineOn > last && day.Past(milestone.DeadlineOn))
                last = milestone.DeadlineOn;
        return last;
    }

    private static bool IsLost(InfantStatus status, Policy policy, ContactAttempt? lastTry, ref Day day) =>
        status.Loss != LossState.None
        && !(lastTry is { } tried && IsAnswer(tried) && !day.Past(tried.AttemptedOn.AddDays(policy.FoundDays)));

    /// <summary>What follows a refer is work at once; the rest from some days before it is due.</summary>
    private static bool IsTime(Due next, Policy policy, ref Day day) => next.Step is DueStep.Rescreen or DueStep.RepeatScreen
        or DueStep.AbrScreen or DueStep.DiagnosticEvaluation or DueStep.CompleteDiagnosis or DueStep.ReferToIntervention
        or DueStep.EnrolInIntervention or DueStep.CmvTest or DueStep.HandOff || day.Reached(next.DueOn.AddDays(-policy.WorkAheadDays));

    private static bool IsMonitoring(DueStep step) =>
        step is DueStep.Monitoring or DueStep.SurveillanceEvaluation or DueStep.DevelopmentalAssessment;

    private static bool IsNicu(InfantFacts facts, Policy policy) =>
        facts.RiskIndicators.Any(r => r.Kind == RiskIndicatorKind.NicuOverFiveDays)
        || (facts.Birth.NicuAdmittedOn is { } from && facts.Birth.NicuDischargedOn is { } to
            && to.DayNumber - from.DayNumber > policy.NicuDays);

    private static bool IsAnswer(ContactAttempt attempt) => attempt.Outcome is ContactOutcome.Reached or ContactOutcome.AppointmentMade;

    /// <summary>Of several on one day, one that was answered, and then the one with the latest day to call again.</summary>
    private static ContactAttempt? LastTry(InfantFacts facts, ref Day day)
    {
        ContactAttempt? last = null;
        foreach (var attempt in facts.ContactAttempts)
        {
            if (!day.Reached(attempt.AttemptedOn)) continue;
            if (last is not { } other || Order(attempt).CompareTo(Order(other)) > 0) last = attempt;
        }

        return last;

        static (DateOnly, bool, DateOnly) Order(ContactAttempt a) =>
            (a.AttemptedOn, IsAnswer(a), a.CallAgainOn ?? DateOnly.MinValue);
    }

    private static int TriesInVain(InfantFacts facts, ref Day day)
    {
        var answeredOn = DateOnly.MinValue;
        foreach (var attempt in facts.ContactAttempts)
            if (IsAnswer(attempt) && attempt.AttemptedOn > answeredOn && day.Reached(attempt.AttemptedOn)) answeredOn = attempt.AttemptedOn;
        var tries = 0;
        foreach (var attempt in facts.ContactAttempts)
            if (!IsAnswer(attempt) && attempt.AttemptedOn > answeredOn && day.Reached(attempt.AttemptedOn)) tries++;
        return tries;
    }
}
