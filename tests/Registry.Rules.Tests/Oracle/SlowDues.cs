using Registry.Rules.Facts;
using static Registry.Rules.Tests.Oracle.KnownFacts;

namespace Registry.Rules.Tests.Oracle;

internal readonly record struct SlowDue(DateOnly On, DueStep Step, string Rule);

/// <summary>
/// Section 9, all but surveillance: what is asked of the family next. Sources: JCIH 2019 (rescreen), JCIH 2007 (NICU, readmission,
/// fitting), 34 CFR 303.303 and 303.310 (7 and 45 days); that an evaluation under way is to be completed is common practice.
/// </summary>
internal sealed class SlowDues(
    KnownFacts known, SlowScreening screening, SlowDiagnosis diagnosis, SlowAbsences absences, SlowMilestones milestones, StatusFlags flags)
{
    private Policy Policy => known.Policy;

    /// <summary>An infant who referred after a long NICU stay goes to audiology, not to a rescreen.</summary>
    private bool StraightToAudiology => known.LongNicuStay && Policy.NicuReferToAudiology;

    private DateOnly RescreenUntil => LastDay(Policy.RescreenUntil, milestones.CountsFrom);

    private bool RescreenDue => absences.Declined(PathStep.Screening) is null && screening.Refers && !StraightToAudiology
        && known.Visits.Length == 0 && screening.Rescreens < Policy.MaxRescreens && known.AsOf <= RescreenUntil;

    /// <summary>A readmission in time, with a condition that raises risk, and no screen of both ears nor evaluation since.</summary>
    public DateOnly? RepeatScreenAfterReadmission
    {
        get
        {
            if (!MayRepeatScreen) return null;
            var asking = known.All.Readmissions.Where(r => r.RaisesRisk && r.AdmittedOn >= known.Born && known.By(r.AdmittedOn)
                && r.AdmittedOn <= LastDay(Policy.ReadmissionUntil, known.Born)
                && !(screening.LastBothOn >= r.AdmittedOn) && !(known.LastVisit >= r.AdmittedOn));
            return asking.Select(r => (DateOnly?)(r.DischargedOn ?? Later(milestones.ScreeningBy, r.AdmittedOn))).Min();
        }
    }

    private bool MayRepeatScreen => absences.Gone is null && absences.Declined(PathStep.Screening) is null
        && screening.Conclusion == ScreeningConclusion.Passed && !(diagnosis.Closed && diagnosis.LastFull is not null);

    public IEnumerable<SlowDue> All()
    {
        if (absences.Gone is not null) return [];
        var surveillance = new SlowSurveillance(known, screening, diagnosis, absences, milestones);
        return [.. OfScreening(), .. OfDiagnosis(), .. OfIntervention(), .. surveillance.Evaluations(), .. surveillance.AbrScreen()];
    }

    private IEnumerable<SlowDue> OfScreening()
    {
        if (RescreenDue) yield return new(RescreenUntil, DueStep.Rescreen, "screening.rescreen");
        if (!screening.Refers && milestones.ScreeningOpen && screening.Used.Length > 0)
            yield return new(milestones.ScreeningBy, DueStep.CompleteScreen, "screening.complete");
        if (!screening.Refers && milestones.ScreeningOpen && screening.Used.Length == 0)
            yield return new(milestones.ScreeningBy, DueStep.Screen, "screening.deadline");
        if (MayRepeatScreen && flags.HasFlag(StatusFlags.OaeOnlyInNicu))
            yield return new(milestones.ScreeningBy, DueStep.RepeatScreen, "screening.abr-in-nicu");
        if (RepeatScreenAfterReadmission is { } on) yield return new(on, DueStep.RepeatScreen, "screening.readmission");
    }

    private IEnumerable<SlowDue> OfDiagnosis()
    {
        if (absences.Declined(PathStep.Diagnosis) is not null) yield break;
        var by = milestones.DiagnosisBy;
        if (known.LastVisit is { } last && !diagnosis.Closed)
        {
            var on = last <= by ? by : last.AddDays(Policy.DiagnosisInProcessDays);
            yield return new(on, DueStep.CompleteDiagnosis, "diagnosis.complete");
        }

        if (known.LastVisit is null && milestones.DiagnosisOpen && !RescreenDue)
            yield return new(by, DueStep.DiagnosticEvaluation,
                screening.Refers && StraightToAudiology ? "diagnosis.nicu" : "diagnosis.deadline");
    }

    private IEnumerable<SlowDue> OfIntervention()
    {
        if (absences.Declined(PathStep.Intervention) is not null || diagnosis.IdentifiedOn is not { } identified) yield break;
        var ended = known.Happened(InterventionKind.Ended);
        var over = ended || absences.NotEligibleOn is not null;
        var referred = known.First(InterventionKind.Referred);
        if (referred is null && milestones.EnrolledOn is null && !over)
            yield return new(identified.AddDays(7), DueStep.ReferToIntervention, "intervention.referral");
        if (referred is { } on && !known.Happened(InterventionKind.ServicePlan) && !over)
            yield return new(on.AddDays(45), DueStep.ServicePlan, "intervention.service-plan");
        if (milestones.InterventionOpen && !ended)
            yield return new(milestones.InterventionBy, DueStep.EnrolInIntervention, "intervention.deadline");
        if (!known.Happened(InterventionKind.AmplificationFitted, InterventionKind.AmplificationDeclined))
            yield return new(LastDay(Policy.AmplificationDeadline, identified), DueStep.AmplificationFitting, "amplification.fitting");
    }
}
