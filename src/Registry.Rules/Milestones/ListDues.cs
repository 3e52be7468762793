using Registry.Rules.Facts;

namespace Registry.Rules.Milestones;

/// <summary>What is due on the way from screening to early intervention. Nothing is due of a family that declined or whose child died;
/// of one that left, a hand-off to the program of the other state. What is overdue stays listed until it is done.</summary>
internal static class ListDues
{
    public static void Into(ref Draft status, in CarePath path, ref Day day)
    {
        if (path.Absent.Kind == Absence.Moved) HandOff(ref status, path, ref day);
        if (!path.Absent.IsNone) return;
        var rescreen = false;
        if (!path.ScreeningDeclined) rescreen = ListScreening.Into(ref status, path, ref day);
        if (!path.DiagnosisDeclined) Diagnosis(ref status, path, rescreen);
        if (path.Diagnosis.PermanentLossOn is not { } identified) return;
        if (!path.InterventionDeclined && !day.Reached(path.Born.AddYears(path.Policy.PartCUntilYears)))
            Intervention(ref status, path, identified);
        if (!path.InterventionDeclined && !path.Intervention.Assessed
            && !day.Reached(path.Born.AddYears(path.Policy.MonitoringUntilYears)))
            Assess(ref status, path, identified);
        if (path.Intervention.FittedOn is null && !path.Intervention.AmplificationDeclined)
            status.Add(DueStep.AmplificationFitting, path.Policy.AmplificationDeadline.LastDay(identified),
                RuleCatalogue.AmplificationInOneMonth.Id,
                new Sentence("permanent hearing loss confirmed on {0:d}: fitting within one month where the family chooses amplification",
                    identified.DayNumber));
    }

    private static void Diagnosis(ref Draft status, in CarePath path, bool rescreen)
    {
        ref readonly var diagnosis = ref path.Diagnosis;
        if (diagnosis.LastOn is { } last)
        {
            if (!diagnosis.Closed) Continue(ref status, path, last);
            return;
        }

        if (!path.DiagnosisOpen || rescreen) return;
        if (path.Screen.Refers && path.LongNicuStay && path.Policy.NicuReferToAudiology)
            status.Add(DueStep.DiagnosticEvaluation, path.DiagnosisDeadlineOn, RuleCatalogue.NicuReferToAudiology.Id,
                new Sentence("referred after more than {0} days in the NICU: to audiology without a rescreen (a refer is not a diagnosis)",
                    path.Policy.NicuDays));
        else
            status.Add(DueStep.DiagnosticEvaluation, path.DiagnosisDeadlineOn, RuleCatalogue.DiagnosisByThreeMonths.Id,
                new Sentence(!path.Screen.Refers ? "to go straight to diagnostic evaluation, without a screen"
                    : path.Screen.CompleteRescreens > path.Policy.MaxRescreens
                        ? "referred at the rescreen; screening again does not clear it, whatever it shows (a refer is not a diagnosis)"
                    : path.Screen.CompleteRescreens > 0 ? "referred at the rescreen (a refer is not a diagnosis)"
                    : "referred and not rescreened in time (a refer is not a diagnosis)"));
    }

    /// <summary>An evaluation under way: where the audiologist said, else after treatment of the middle ear, else by the
    /// deadline.</summary>
    private static void Continue(ref Draft status, in CarePath path, DateOnly last)
    {
        if (path.Diagnosis.MiddleEarOn is { } seen)
            status.Add(DueStep.MiddleEarReevaluation, WalkPath.SeenAgainOn(path)!.Value, RuleCatalogue.MiddleEarAgain.Id,
                new Sentence("conductive hearing loss found on {0:d}, not said to be permanent: "
                    + "evaluate again after treatment of the middle ear",
                    seen.DayNumber));
        else
            status.Add(DueStep.CompleteDiagnosis,
                path.Diagnosis.NextOn ?? (last <= path.DiagnosisDeadlineOn
                    ? path.DiagnosisDeadlineOn : last.AddDays(path.Policy.DiagnosisInProcessDays)),
                RuleCatalogue.CompleteDiagnosis.Id,
                    new Sentence("last evaluated on {0:d}, but not both ears have a final finding", last.DayNumber));
    }

    private static void Intervention(ref Draft status, in CarePath path, DateOnly identified)
    {
        ref readonly var came = ref path.Intervention;
        var asked = came.NotEligibleOn is null && !came.Ended;
        if (came.ClockFrom is null && came.BegunOn is null && asked)
            status.Add(DueStep.ReferToIntervention, identified.AddDays(PartC.ReferralDays), RuleCatalogue.ReferralInSevenDays.Id,
                new Sentence("permanent hearing loss found on {0:d}, not referred to early intervention yet", identified.DayNumber));
        if (came.ClockFrom is { } from && came.PlannedOn is null && asked && !came.Paused)
            status.Add(DueStep.ServicePlan, from.AddDays(PartC.ServicePlanDays + came.PausedDays),
                RuleCatalogue.ServicePlanInFortyFiveDays.Id, new Sentence(came.ReceivedOn is null
                    ? "referred to early intervention on {0:d}, no service plan meeting reported"
                    : came.PausedDays > 0
                        ? "referral received on {0:d}, no service plan meeting reported; the clock stood still for {1} days"
                    : "referral received on {0:d}, no service plan meeting reported", from.DayNumber, came.PausedDays));
        if (path.InterventionOpen && !came.Ended)
            status.Add(DueStep.EnrolInIntervention, path.InterventionDeadlineOn, RuleCatalogue.InterventionBySixMonths.Id,
                new Sentence("permanent hearing loss found on {0:d}, not in early intervention yet", identified.DayNumber));
    }

    /// <summary>By an age; of a hearing loss found late, some weeks after it.</summary>
    private static void Assess(ref Draft status, in CarePath path, DateOnly identified)
    {
        var by = path.Born.AddMonths(path.Policy.DevelopmentalAssessmentMonths);
        var afterFinding = identified.AddDays(PartC.ServicePlanDays);
        status.Add(DueStep.DevelopmentalAssessment, afterFinding > by ? afterFinding : by, RuleCatalogue.DevelopmentalAssessment.Id,
            new Sentence("permanent hearing loss found on {0:d}: assess the child's development", identified.DayNumber));
    }

    /// <summary>Asked while something is open that would be asked here: a screen, an evaluation, care, a later evaluation.</summary>
    private static void HandOff(ref Draft status, in CarePath path, ref Day day)
    {
        foreach (ref readonly var move in path.Facts.Moves.AsSpan())
        {
            if (move.Kind == MoveKind.HandedOff && move.MovedOn >= path.Absent.On && day.Reached(move.MovedOn)) return;
        }

        var screening = path.Screen.CompleteOn is null && path.Diagnosis.FirstOn is null && !path.ScreeningDeclined;
        var diagnosis = !path.DiagnosisDeclined
            && (path.Screen.Refers && path.Diagnosis.FirstOn is null || path.Diagnosis.FirstOn is not null && !path.Diagnosis.Closed);
        if (!screening && !diagnosis && path.Diagnosis.PermanentLossOn is null
            && !path.LongNicuStay && !HasIndicator(path, ref day)) return;
        status.Add(DueStep.HandOff, path.Absent.On.AddDays(path.Policy.HandOffDays), RuleCatalogue.HandOff.Id,
            new Sentence("lives in another state since {0:d}: tell its program what is open", path.Absent.On.DayNumber));
    }

    private static bool HasIndicator(in CarePath path, ref Day day)
    {
        foreach (ref readonly var risk in path.Facts.RiskIndicators.AsSpan())
        {
            if (day.Reached(risk.NotedOn)) return true;
        }

        return false;
    }
}
