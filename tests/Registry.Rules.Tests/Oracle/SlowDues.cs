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

    /// <summary>A readmission in time, with a condition that raises risk, and no screen of both ears nor evaluation since. What can
    /// harm the
    /// nerve (exchange transfusion, meningitis, sepsis, noted during the stay) only ABR of both ears answers: OAE misses it (JCIH
    /// 2007).</summary>
    public SlowDue? RepeatScreenAfterReadmission
    {
        get
        {
            if (!MayRepeatScreen) return null;
            var asking =
                from r in known.All.Readmissions
                let nerve = known.Risks.Any(k => k.NotedOn >= r.AdmittedOn && k.NotedOn <= (r.DischargedOn ?? DateOnly.MaxValue)
                    && k.Kind is RiskIndicatorKind.ExchangeTransfusion or RiskIndicatorKind.Meningitis or RiskIndicatorKind.Sepsis)
                where (r.RaisesRisk || nerve) && r.AdmittedOn >= known.Born && known.By(r.AdmittedOn)
                    && r.AdmittedOn <= LastDay(Policy.ReadmissionUntil, known.Born) && !(known.LastVisit >= r.AdmittedOn)
                let answered = nerve
                    ? screening.LastAbrOn(Ear.Right) >= r.AdmittedOn && screening.LastAbrOn(Ear.Left) >= r.AdmittedOn
                    : screening.LastBothOn >= r.AdmittedOn
                where !answered
                let last = r.DischargedOn ?? Later(milestones.ScreeningBy, r.AdmittedOn)
                orderby last, nerve ? 0 : 1
                select (SlowDue?)(nerve ? new SlowDue(last, DueStep.AbrScreen, "screening.readmission-abr")
                    : new SlowDue(last, DueStep.RepeatScreen, "screening.readmission"));
            return asking.FirstOrDefault();
        }
    }

    private bool MayRepeatScreen => absences.Gone is null && absences.Declined(PathStep.Screening) is null
        && screening.Conclusion == ScreeningConclusion.Passed && !(diagnosis.Closed && diagnosis.LastFull is not null);

    public IEnumerable<SlowDue> All()
    {
        if (absences.Gone is { } gone) return gone.Why == "moved" ? HandOff(gone.From) : [];
        var surveillance = new SlowSurveillance(known, screening, diagnosis, absences, milestones);
        return
        [
            .. OfScreening(), .. CmvTest(), .. OfDiagnosis(), .. OfIntervention(),
            .. surveillance.Evaluations(), .. surveillance.AbrScreen(), .. surveillance.Monitoring(),
        ];
    }

    private IEnumerable<SlowDue> OfScreening()
    {
        if (RescreenDue) yield return new(RescreenUntil, DueStep.Rescreen, "screening.rescreen");
        if (!screening.Refers && milestones.ScreeningOpen && screening.Used.Length > 0)
            yield return new(milestones.ScreeningBy, DueStep.CompleteScreen, "screening.complete");
        if (!screening.Refers && milestones.ScreeningOpen && screening.Used.Length == 0)
            yield return new(milestones.ScreeningBy, DueStep.Screen, "screening.deadline");
        if (MayRepeatScreen && flags.HasFlag(StatusFlags.OaeOnlyInNicu))
            yield return new(milestones.ScreeningBy, DueStep.AbrScreen, "screening.abr-in-nicu");
        if (RepeatScreenAfterReadmission is { } due) yield return due;
    }

    /// <summary>The law of several states: within 21 days, of an infant who referred. Counted from birth it cannot begin after
    /// them.</summary>
    private IEnumerable<SlowDue> CmvTest()
    {
        if (!Policy.CmvTestAfterRefer || absences.Declined(PathStep.Screening) is not null || diagnosis.Closed) yield break;
        if (screening.RefersSince is not { } since || known.Happened(InterventionKind.CmvTested)) yield break;
        var by = (Policy.CmvTestFromBirth ? known.Born : since).AddDays(Policy.CmvTestDays);
        if (since <= by) yield return new(by, DueStep.CmvTest, "screening.cmv-test");
    }

    /// <summary>Of a child of another state that state's program is told, when anything is open.</summary>
    private IEnumerable<SlowDue> HandOff(DateOnly since)
    {
        if (known.All.Moves.Any(m => m.Kind == MoveKind.HandedOff && known.By(m.MovedOn) && m.MovedOn >= since)) yield break;
        var toScreen = screening.CompleteOn is null && known.Visits.Length == 0 && absences.Declined(PathStep.Screening) is null;
        var toEvaluate = (known.Visits.Length == 0 ? screening.Refers : !diagnosis.Closed) && absences.Declined(PathStep.Diagnosis) is null;
        if (toScreen || toEvaluate || diagnosis.IdentifiedOn is not null || known.LongNicuStay || known.Risks.Length > 0)
            yield return new(since.AddDays(Policy.HandOffDays), DueStep.HandOff, "residence.hand-off");
    }

    private IEnumerable<SlowDue> OfDiagnosis()
    {
        if (absences.Declined(PathStep.Diagnosis) is not null) yield break;
        var by = milestones.DiagnosisBy;
        if (known.LastVisit is { } last && !diagnosis.Closed)
        {
            if (diagnosis.MiddleEar is { } seen)
                yield return new(diagnosis.NextSet ?? LastDay(Policy.MiddleEarReevaluation, seen), DueStep.MiddleEarReevaluation,
                    "diagnosis.middle-ear");
            else
                yield return new(diagnosis.NextSet ?? (last <= by ? by : last.AddDays(Policy.DiagnosisInProcessDays)),
                    DueStep.CompleteDiagnosis,
                    "diagnosis.complete");
        }

        if (known.LastVisit is null && milestones.DiagnosisOpen && !RescreenDue)
            yield return new(by, DueStep.DiagnosticEvaluation,
                screening.Refers && StraightToAudiology ? "diagnosis.nicu" : "diagnosis.deadline");
    }

    private IEnumerable<SlowDue> OfIntervention()
    {
        if (diagnosis.IdentifiedOn is not { } identified) yield break;

        // Two decisions: declining Part C says nothing of the fitting (JCIH 2007: within one month, where the family chooses it).
        if (!known.Happened(InterventionKind.AmplificationFitted, InterventionKind.AmplificationDeclined))
            yield return new(LastDay(Policy.AmplificationDeadline, identified), DueStep.AmplificationFitting, "amplification.fitting");

        // JCIH 2007: a first developmental assessment by 12 months of age (from memory); of a loss found late, 45 days after it.
        if (absences.Declined(PathStep.Intervention) is null && !known.Happened(InterventionKind.DevelopmentalAssessment)
            && !known.By(known.Born.AddYears(Policy.MonitoringUntilYears)))
            yield return new(Later(known.Born.AddMonths(Policy.DevelopmentalAssessmentMonths), identified.AddDays(45)),
                DueStep.DevelopmentalAssessment, "intervention.development");
        foreach (var due in new SlowPartC(known, absences, milestones).Dues(identified)) yield return due;
    }
}
