using Registry.Rules.Facts;

namespace Registry.Rules.Milestones;

/// <summary>What is due on the way from screening to early intervention. Nothing is due of a family that left, declined or
/// whose child died; what is overdue stays listed until it is done.</summary>
internal static class ListDues
{
    public static void Into(ref Draft status, in CarePath path, ref Day day)
    {
        if (!path.Absent.IsNone) return;
        var rescreen = false;
        if (!path.ScreeningDeclined) rescreen = Screening(ref status, path, ref day);
        if (!path.DiagnosisDeclined) Diagnosis(ref status, path, rescreen);
        if (!path.InterventionDeclined && path.Diagnosis.PermanentLossOn is { } identified) Intervention(ref status, path, identified);
    }

    /// <returns>Whether a rescreen is due: diagnostic evaluation then waits for it.</returns>
    private static bool Screening(ref Draft status, in CarePath path, ref Day day)
    {
        ref readonly var screen = ref path.Screen;
        if (screen.Refers)
        {
            var direct = path.LongNicuStay && path.Policy.NicuReferToAudiology;
            var until = path.Policy.RescreenUntil.LastDay(path.Policy.CountFrom(path.Facts.Birth));
            if (direct || path.Diagnosis.FirstOn is not null || screen.CompleteRescreens >= path.Policy.MaxRescreens || day.Past(until))
                return false;
            status.Add(DueStep.Rescreen, until, RuleCatalogue.Rescreen.Id, new Sentence(path.Conclusion switch
            {
                ScreeningConclusion.ReferredBothEars =>
                    "both ears referred: rescreen both ears in one session (a refer is not a diagnosis)",
                ScreeningConclusion.ReferredOneEar => "one ear referred: rescreen both ears in one session (a refer is not a diagnosis)",
                _ => "one ear referred and the other has no result that counts: screen both ears in one session "
                    + "(a refer is not a diagnosis)",
            }));
            return true;
        }

        if (path.ScreeningOpen)
        {
            if (path.Conclusion == ScreeningConclusion.Incomplete)
                status.Add(DueStep.CompleteScreen, path.ScreeningDeadlineOn, RuleCatalogue.CompleteScreen.Id,
                    new Sentence("attempted, but not both ears have a result that counts: no valid result is not a screen"));
            else
                status.Add(DueStep.Screen, path.ScreeningDeadlineOn, RuleCatalogue.ScreenByOneMonth.Id,
                    new Sentence(path.Facts.Birth.Place == BirthPlace.Home ? "born at home and not screened yet" : "not screened yet"));
            return false;
        }

        if (path.Conclusion != ScreeningConclusion.Passed || path.Diagnosis.LastFullOn is not null && path.Diagnosis.Closed) return false;
        if ((status.Flags & StatusFlags.OaeOnlyInNicu) != 0)
            status.Add(DueStep.RepeatScreen, path.ScreeningDeadlineOn, RuleCatalogue.AbrInNicu.Id,
                new Sentence("more than {0} days in the NICU and passed with OAE only: an ABR-based screen is needed",
                    path.Policy.NicuDays));
        Readmitted(ref status, path, ref day);
        return false;
    }

    private static void Readmitted(ref Draft status, in CarePath path, ref Day day)
    {
        var within = path.Policy.ReadmissionUntil.LastDay(path.Born);
        var found = false;
        var (admittedOn, dueOn) = (DateOnly.MinValue, DateOnly.MinValue);
        foreach (ref readonly var readmission in path.Facts.Readmissions.AsSpan())
        {
            var admitted = readmission.AdmittedOn;
            if (!readmission.RaisesRisk || admitted < path.Born || admitted > within || !day.Reached(admitted)) continue;
            if (path.Screen.LastBothEarsOn >= admitted || path.Diagnosis.LastOn >= admitted) continue;
            var due = readmission.DischargedOn ?? (admitted > path.ScreeningDeadlineOn ? admitted : path.ScreeningDeadlineOn);
            if (found && (due > dueOn || due == dueOn && admitted >= admittedOn)) continue;
            (found, admittedOn, dueOn) = (true, admitted, due);
        }

        if (!found) return;
        status.Flags |= StatusFlags.RepeatScreenNeeded;
        status.Add(DueStep.RepeatScreen, dueOn, RuleCatalogue.ScreenAfterReadmission.Id,
            new Sentence("readmitted on {0:d} with a condition that raises the risk of hearing loss: repeat the screen before discharge",
                admittedOn.DayNumber));
    }

    private static void Diagnosis(ref Draft status, in CarePath path, bool rescreen)
    {
        ref readonly var diagnosis = ref path.Diagnosis;
        if (diagnosis.LastOn is { } last)
        {
            if (diagnosis.Closed) return;
            var dueOn = last <= path.DiagnosisDeadlineOn ? path.DiagnosisDeadlineOn : last.AddDays(path.Policy.DiagnosisInProcessDays);
            status.Add(DueStep.CompleteDiagnosis, dueOn, RuleCatalogue.CompleteDiagnosis.Id,
                new Sentence("last evaluated on {0:d}, but not both ears have a final finding", last.DayNumber));
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
                    : path.Screen.CompleteRescreens > 0 ? "referred at the rescreen (a refer is not a diagnosis)"
                    : "referred and not rescreened in time (a refer is not a diagnosis)"));
    }

    private static void Intervention(ref Draft status, in CarePath path, DateOnly identified)
    {
        ref readonly var came = ref path.Intervention;
        var eligible = came.NotEligibleOn is null && came.EndedOn is null;
        var referredOn = came.ReferredOn;
        if (referredOn is null && came.EnrolledOn is null && eligible)
            status.Add(DueStep.ReferToIntervention, identified.AddDays(PartC.ReferralDays), RuleCatalogue.ReferralInSevenDays.Id,
                new Sentence("permanent hearing loss found on {0:d}, not referred to early intervention yet", identified.DayNumber));
        if (referredOn is { } referred && came.ServicePlanOn is null && eligible)
            status.Add(DueStep.ServicePlan, referred.AddDays(PartC.ServicePlanDays), RuleCatalogue.ServicePlanInFortyFiveDays.Id,
                new Sentence("referred to early intervention on {0:d}, no service plan meeting reported", referred.DayNumber));
        if (path.InterventionOpen && came.EndedOn is null)
            status.Add(DueStep.EnrolInIntervention, path.InterventionDeadlineOn, RuleCatalogue.InterventionBySixMonths.Id,
                new Sentence("permanent hearing loss found on {0:d}, not in early intervention yet", identified.DayNumber));
        if (came.FittedOn is null && !came.AmplificationDeclined)
            status.Add(DueStep.AmplificationFitting, path.Policy.AmplificationDeadline.LastDay(identified),
                RuleCatalogue.AmplificationInOneMonth.Id,
                new Sentence("permanent hearing loss confirmed on {0:d}: fitting within one month where the family chooses amplification",
                    identified.DayNumber));
    }
}
