using Registry.Rules.Facts;

namespace Registry.Rules.Milestones;

/// <summary>What is due of the screening: a first screen, a rescreen, one more where the first does not answer.</summary>
internal static class ListScreening
{
    /// <returns>Whether a rescreen is due: diagnostic evaluation then waits for it.</returns>
    public static bool Into(ref Draft status, in CarePath path, ref Day day)
    {
        ref readonly var screen = ref path.Screen;
        if (screen.Refers)
        {
            CmvTest(ref status, path);
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

        if (path.ScreeningOpen) First(ref status, path);
        if (path.Conclusion != ScreeningConclusion.Passed || path.Diagnosis.LastFullOn is not null && path.Diagnosis.Closed) return false;
        if ((status.Flags & StatusFlags.OaeOnlyInNicu) != 0)
            status.Add(DueStep.AbrScreen, path.ScreeningDeadlineOn, RuleCatalogue.AbrInNicu.Id,
                new Sentence("more than {0} days in the NICU and passed with OAE only: an ABR-based screen is needed",
                    path.Policy.NicuDays));
        Readmitted(ref status, path, ref day);
        return false;
    }

    private static void First(ref Draft status, in CarePath path)
    {
        if (path.Conclusion == ScreeningConclusion.Incomplete)
            status.Add(DueStep.CompleteScreen, path.ScreeningDeadlineOn, RuleCatalogue.CompleteScreen.Id, new Sentence(path.Hospital.IsIn
                ? "inpatient: attempted, but not both ears have a result that counts: no valid result is not a screen"
                : "attempted, but not both ears have a result that counts: no valid result is not a screen"));
        else
            status.Add(DueStep.Screen, path.ScreeningDeadlineOn, RuleCatalogue.ScreenByOneMonth.Id, new Sentence(
                path.Hospital.IsIn ? "inpatient, not screened yet: screen before the discharge home"
                : (status.Flags & StatusFlags.HomeBirthNotContacted) != 0
                    ? "born at home, not screened, and nobody has been in touch with the family by the deadline"
                : path.Facts.Birth.Place == BirthPlace.Home ? "born at home and not screened yet"
                : "not screened yet"));
    }

    /// <summary>Where the program's law asks for it: until it was taken, or the hearing evaluated. A refer after the last day comes too
    /// late when the days count from birth.</summary>
    private static void CmvTest(ref Draft status, in CarePath path)
    {
        if (!path.Policy.CmvTestAfterRefer || path.Intervention.CmvTested || path.Diagnosis.Closed
            || path.Screen.ReferredOn is not { } referredOn) return;
        var by = (path.Policy.CmvTestFromBirth ? path.Born : referredOn).AddDays(path.Policy.CmvTestDays);
        if (referredOn > by) return;
        status.Add(DueStep.CmvTest, by, RuleCatalogue.CmvTest.Id,
            new Sentence("referred on {0:d}: test for congenital CMV (a refer is not a diagnosis)", referredOn.DayNumber));
    }

    private static void Readmitted(ref Draft status, in CarePath path, ref Day day)
    {
        var within = path.Policy.ReadmissionUntil.LastDay(path.Born);
        var (found, neural) = (false, false);
        var (admittedOn, dueOn) = (DateOnly.MinValue, DateOnly.MinValue);
        foreach (ref readonly var readmission in path.Facts.Readmissions.AsSpan())
        {
            var admitted = readmission.AdmittedOn;
            if (admitted < path.Born || admitted > within || !day.Reached(admitted)) continue;
            var isNeural = IsNeural(readmission, path, ref day);
            if (!isNeural && !readmission.RaisesRisk || path.Diagnosis.LastOn >= admitted) continue;
            if (isNeural ? path.Screen.BothByAbrSince(admitted) : path.Screen.LastBothEarsOn >= admitted) continue;
            var due = readmission.DischargedOn ?? (admitted > path.ScreeningDeadlineOn ? admitted : path.ScreeningDeadlineOn);
            // The soonest due; of two on one day the one that asks for ABR, then the earlier.
            if (found && (due, !isNeural, admitted).CompareTo((dueOn, !neural, admittedOn)) >= 0) continue;
            (found, neural, admittedOn, dueOn) = (true, isNeural, admitted, due);
        }

        if (!found) return;
        status.Flags |= StatusFlags.RepeatScreenNeeded;
        if (neural)
            status.Add(DueStep.AbrScreen, dueOn, RuleCatalogue.AbrAfterReadmission.Id,
                new Sentence("readmitted on {0:d} with a condition that can harm the auditory nerve: "
                    + "repeat the screen with ABR before discharge",
                    admittedOn.DayNumber));
        else
            status.Add(DueStep.RepeatScreen, dueOn, RuleCatalogue.ScreenAfterReadmission.Id,
                new Sentence("readmitted on {0:d} with a condition that raises the risk of hearing loss: "
                    + "repeat the screen before discharge",
                    admittedOn.DayNumber));
    }

    /// <summary>During the stay an exchange transfusion, meningitis or sepsis was noted.</summary>
    private static bool IsNeural(in Readmission readmission, in CarePath path, ref Day day)
    {
        foreach (ref readonly var risk in path.Facts.RiskIndicators.AsSpan())
        {
            if (risk.Kind is RiskIndicatorKind.ExchangeTransfusion or RiskIndicatorKind.Meningitis or RiskIndicatorKind.Sepsis
                && risk.NotedOn >= readmission.AdmittedOn && !(risk.NotedOn > readmission.DischargedOn) && day.Reached(risk.NotedOn))
                return true;
        }

        return false;
    }
}
