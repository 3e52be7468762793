using Registry.Rules.Facts;
using static Registry.Rules.Tests.Oracle.KnownFacts;

namespace Registry.Rules.Tests.Oracle;

/// <summary>
/// Section 7: the three milestones. Sources: JCIH 2007 and 2019 ("no later than" 1, 3, 6 months), CDC ("before"); 45 days after a hearing
/// loss identified late are JCIH 2007's, from memory.
/// </summary>
internal sealed class SlowMilestones(KnownFacts known, SlowScreening screening, SlowDiagnosis diagnosis, SlowAbsences absences)
{
    public DateOnly CountsFrom => known.Policy.CorrectForPrematurity && known.All.Birth.GestationWeeks is { } weeks && weeks < 37
        ? known.Born.AddDays(7 * (40 - weeks))
        : known.Born;

    public DateOnly ScreeningBy => LastDay(known.Policy.ScreeningDeadline, CountsFrom);
    public DateOnly DiagnosisBy => LastDay(known.Policy.DiagnosisDeadline, CountsFrom);
    public DateOnly InterventionBy
    {
        get
        {
            var by = LastDay(known.Policy.InterventionDeadline, CountsFrom);
            var foundLate = screening.Conclusion == ScreeningConclusion.Passed || diagnosis.ClearedBefore;
            return diagnosis.IdentifiedOn is { } identified && foundLate ? Later(by, identified.AddDays(45)) : by;
        }
    }

    public bool NeedsDiagnosis => screening.Refers || absences.Straight is not null;

    /// <summary>Also of a family that is in early intervention on a provisional finding already.</summary>
    public bool NeedsIntervention => diagnosis.IdentifiedOn is not null || ToBeConfirmed;
    public bool ToBeConfirmed => diagnosis.ProvisionallyPermanent && EnrolledOn is not null;

    public DateOnly? EnrolledOn => known.Policy.ServicePlanCountsAsEnrolled
        ? known.First(InterventionKind.Enrolled, InterventionKind.ServicePlan)
        : known.First(InterventionKind.Enrolled);

    public bool ScreeningOpen => screening.CompleteOn is null && absences.FromScreening is null;
    public bool DiagnosisOpen => NeedsDiagnosis && diagnosis.CompleteOn is null && absences.FromDiagnosis is null;
    public bool InterventionOpen => NeedsIntervention && EnrolledOn is null && absences.FromIntervention is null;

    public SlowStatus.Reached Screened => Reach(true, ScreeningBy, screening.CompleteOn, absences.FromScreening);
    public SlowStatus.Reached Diagnosed => Reach(NeedsDiagnosis, DiagnosisBy, diagnosis.CompleteOn, absences.FromDiagnosis);
    public SlowStatus.Reached Enrolled => Reach(NeedsIntervention, InterventionBy, EnrolledOn, absences.FromIntervention);

    private SlowStatus.Reached Reach(bool required, DateOnly by, DateOnly? done, Absent? absent)
    {
        var state = !required ? MilestoneState.NotRequired
            : done is { } on ? on <= by ? MilestoneState.Met : MilestoneState.Late
            : absent is { } a && a.From <= by ? MilestoneState.Excluded
            : known.AsOf > by ? MilestoneState.Missed
            : MilestoneState.Pending;
        return new(state, by, required ? done : null);
    }
}
