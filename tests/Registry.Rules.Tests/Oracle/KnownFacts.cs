using NodaTime;
using Registry.Rules.Facts;

namespace Registry.Rules.Tests.Oracle;

/// <summary>
/// Sections 1 and 2: what is known on the day, in order. Later facts are cut away; facts before the birth count for nothing but a
/// contradiction. Source: JCIH 2007 for the long NICU stay; the order of facts of one moment is common practice without one.
/// </summary>
internal sealed class KnownFacts
{
    private static readonly string[] OutcomesAtOneMoment = ["NotPerformed", "NoValidResult", "Pass", "Refer"];

    public KnownFacts(InfantFacts all, Policy policy, DateOnly asOf)
    {
        (All, Policy, AsOf, Born) = (all, policy, asOf, all.Birth.Date);
        Died = all.DiedOn is { } died && By(died) ? died : null;
        TestsOfAnyDay = [.. all.Tests.Where(t => By(OnDay(t)))];
        EvaluationsOfAnyDay = [.. all.Evaluations.Where(e => By(e.EvaluatedOn))];
        EventsOfAnyDay = [.. all.Interventions.Where(e => By(e.HappenedOn))];
        Tests =
        [
            .. TestsOfAnyDay.Where(t => OnDay(t) >= Born).OrderBy(t => t.PerformedAt)
                .ThenBy(t => Array.IndexOf(OutcomesAtOneMoment, t.Outcome.ToString()))
                .ThenBy(t => t.Method).ThenBy(t => t.Stage).ThenBy(t => t.SiteId).ThenBy(t => t.Ear).ThenBy(t => t.Reason),
        ];
        Visits =
        [
            .. EvaluationsOfAnyDay.Where(e => e.EvaluatedOn >= Born)
                .Where(e => e.Right != EarFinding.NotEvaluated || e.Left != EarFinding.NotEvaluated)
                .OrderBy(e => e.EvaluatedOn).ThenBy(e => e.Provisional ? 0 : 1).ThenBy(Findings.Gravity)
                .ThenBy(e => e.Right).ThenBy(e => e.Left).ThenBy(e => e.RightDegree).ThenBy(e => e.LeftDegree).ThenBy(e => e.Permanent)
                .ThenBy(e => e.NextOn),
        ];
        Events = [.. EventsOfAnyDay.Where(e => e.HappenedOn >= Born)];
        Risks = [.. all.RiskIndicators.Where(r => By(r.NotedOn))];
    }

    public InfantFacts All { get; }
    public Policy Policy { get; }
    public DateOnly AsOf { get; }
    public DateOnly Born { get; }
    public DateOnly? Died { get; }

    /// <summary>Also those before the birth.</summary>
    public ScreeningTest[] TestsOfAnyDay { get; }
    public DiagnosticEvaluation[] EvaluationsOfAnyDay { get; }
    public InterventionEvent[] EventsOfAnyDay { get; }

    public ScreeningTest[] Tests { get; }

    /// <summary>Evaluations of at least one ear.</summary>
    public DiagnosticEvaluation[] Visits { get; }
    public InterventionEvent[] Events { get; }
    public RiskIndicator[] Risks { get; }

    public DateOnly? FirstVisit => Visits.Length > 0 ? Visits[0].EvaluatedOn : null;
    public DateOnly? LastVisit => Visits.Length > 0 ? Visits[^1].EvaluatedOn : null;

    public bool By(DateOnly day) => day <= AsOf;

    /// <summary>It began, and it has not ended: the day it ends is not included.</summary>
    public bool Holds(DateOnly from, DateOnly? ended) => By(from) && !(ended is { } end && By(end));

    public DateOnly? First(params InterventionKind[] kinds) =>
        Events.Where(e => kinds.Contains(e.Kind)).Select(e => (DateOnly?)e.HappenedOn).Min();

    public DateOnly? Last(InterventionKind kind) => Events.Where(e => e.Kind == kind).Select(e => (DateOnly?)e.HappenedOn).Max();

    public bool Happened(params InterventionKind[] kinds) => First(kinds) is not null;

    /// <summary>Section 4: more than the policy's days between NICU admission and discharge or today, or reported as a risk.</summary>
    public bool LongNicuStay
    {
        get
        {
            if (Risks.Any(r => r.Kind == RiskIndicatorKind.NicuOverFiveDays)) return true;
            if (All.Birth.NicuAdmittedOn is not { } admitted || !By(admitted)) return false;
            var leftOn = All.Birth.NicuDischargedOn ?? (Stay.Home >= admitted ? Stay.Home : null);
            var end = leftOn is { } left && By(left) ? left : AsOf;
            return end.DayNumber - admitted.DayNumber > Policy.NicuDays;
        }
    }

    /// <summary>Section 1: facts that cannot all be true.</summary>
    public bool Conflict
    {
        get
        {
            var birth = All.Birth;
            var beforeBirth = TestsOfAnyDay.Any(t => OnDay(t) < Born) || EvaluationsOfAnyDay.Any(e => e.EvaluatedOn < Born)
                || EventsOfAnyDay.Any(e => e.HappenedOn < Born);
            var inTheBirth = birth.DischargedOn < Born || birth.NicuAdmittedOn < Born || birth.NicuAdmittedOn > birth.DischargedOn
                || birth.NicuDischargedOn < (birth.NicuAdmittedOn ?? Born);
            var afterDeath = Died is { } died && (Tests.Any(t => OnDay(t) > died) || Visits.Any(v => v.EvaluatedOn > died)
                || Events.Any(e => e.HappenedOn > died));
            // JCIH 2007 and 2019 diagnose at term age or later: a final finding before that cannot be.
            var beforeTerm = birth.GestationWeeks is { } weeks && Visits.Any(v => !v.Provisional
                && (Findings.Stands(v.Right) || Findings.Stands(v.Left))
                && weeks * 7 + (v.EvaluatedOn.DayNumber - Born.DayNumber) < Policy.TermWeeks * 7);
            return beforeBirth || inTheBirth || afterDeath || beforeTerm;
        }
    }

    public SlowStay Stay => field ??= SlowStay.Of(All, Policy);

    /// <summary>Hours that passed between two local times, by NodaTime: an hour that comes twice is its second coming, and one that never
    /// comes has the offset of standard time.</summary>
    public double Hours(DateTime from, DateTime to) => (InstantOf(to) - InstantOf(from)).TotalHours;

    private Instant InstantOf(DateTime local)
    {
        var zone = DateTimeZoneProviders.Tzdb[Policy.Zone.Id];
        var (at, map) = (LocalDateTime.FromDateTime(local), zone.MapLocal(LocalDateTime.FromDateTime(local)));
        return map.Count > 0 ? map.Last().ToInstant() : at.WithOffset(map.EarlyInterval.WallOffset).ToInstant();
    }

    public static DateOnly OnDay(ScreeningTest test) => DateOnly.FromDateTime(test.PerformedAt);

    public static bool Valid(ScreeningTest test) => test.Outcome is ScreeningOutcome.Pass or ScreeningOutcome.Refer;

    public static DateOnly Later(DateOnly one, DateOnly other) => one > other ? one : other;

    /// <summary>Section 7: the last day in time.</summary>
    public static DateOnly LastDay(Deadline deadline, DateOnly from)
    {
        var day = deadline.Unit == DeadlineUnit.Days ? from.AddDays(deadline.Amount) : from.AddMonths(deadline.Amount);
        return deadline.Inclusive ? day : day.AddDays(-1);
    }
}
