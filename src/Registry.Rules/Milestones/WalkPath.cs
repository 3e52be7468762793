using Registry.Rules.Facts;
using Registry.Rules.Screening;

namespace Registry.Rules.Milestones;

/// <summary>What was concluded from the facts, and what the three steps make of it.</summary>
internal struct CarePath
{
    public InfantFacts Facts;
    public Policy Policy;
    public ScreeningOutcomeOfInfant Screen;
    public ScreeningConclusion Conclusion;
    public Diagnosis Diagnosis;
    public Intervention Intervention;

    /// <summary>Died or left; holds for every step.</summary>
    public AbsentSince Absent;
    public bool LongNicuStay;

    /// <summary>What is known of the infant being in hospital.</summary>
    public Hospital Hospital;
    public DateOnly ScreeningDeadlineOn, DiagnosisDeadlineOn, InterventionDeadlineOn;

    /// <summary>The step is asked of the family: it arises, is not done, and nobody died, left or declined.</summary>
    public bool ScreeningOpen, DiagnosisOpen, InterventionOpen;

    /// <summary>The family declined the step.</summary>
    public bool ScreeningDeclined, DiagnosisDeclined, InterventionDeclined;

    public readonly DateOnly Born => Facts.Birth.Date;
}

/// <summary>The three milestones, the survey category of each step, and where the family is lost.</summary>
internal static class WalkPath
{
    public static void Decide(ref CarePath path, ref Draft status, ref Day day)
    {
        DecideScreening(ref path, ref status, ref day);
        DecideDiagnosis(ref path, ref status, ref day);
        DecideIntervention(ref path, ref status, ref day);
    }

    private static void DecideScreening(ref CarePath path, ref Draft status, ref Day day)
    {
        ref readonly var screen = ref path.Screen;
        var declined = Presence.DeclinedOn(PathStep.Screening, path.Facts, ref day);
        if (screen.NotPerformed == ScreeningReason.Declined && !(declined <= screen.NotPerformedOn)
            && !Presence.ActedAfter(screen.NotPerformedOn, PathStep.Screening, path.Facts, ref day)) declined = screen.NotPerformedOn;
        path.ScreeningDeclined = declined is not null;

        var absent = StraightToDiagnosticOn(path) is { } straight ? new AbsentSince(Absence.StraightToDiagnostic, straight)
            : !path.Absent.IsNone ? path.Absent
            : declined is { } on ? new AbsentSince(Absence.Declined, on)
            : default;

        status.Screened = DecideMilestone.Decide(
            PathStep.Screening, path.Born, path.ScreeningDeadlineOn, screen.CompleteOn, absent,
            path.Conclusion == ScreeningConclusion.Incomplete, ref day, Doubt.Of(status.Flags), Showed.Of(path.Conclusion));

        path.ScreeningOpen = screen.CompleteOn is null && absent.IsNone;
        if (screen.CompleteOn is not null) status.ScreeningCategory = SurveyCategory.Completed;
        else if (!absent.IsNone) status.ScreeningCategory = DecideLoss.OfAbsence(absent.Kind, PathStep.Screening);
        else if (screen.NotPerformed == ScreeningReason.MedicalExclusion) status.ScreeningCategory = SurveyCategory.Medical;
        else
        {
            var category = DecideLoss.Of(PathStep.Screening, path, path.ScreeningDeadlineOn, null, ref day);
            if (category == SurveyCategory.Unknown) category = KnownPlace(path, ref day);
            SetCategory(PathStep.Screening, category, ref status.ScreeningCategory, ref status);
        }

        if (path.ScreeningOpen && path.Facts.Birth.Place == BirthPlace.Home && day.Past(path.ScreeningDeadlineOn)
            && !Contacted(path, ref day))
            status.Flags |= StatusFlags.HomeBirthNotContacted;
    }

    private static bool Contacted(in CarePath path, ref Day day)
    {
        foreach (ref readonly var attempt in path.Facts.ContactAttempts.AsSpan())
        {
            if (attempt.Step == PathStep.Screening && day.Reached(attempt.AttemptedOn)) return true;
        }

        return false;
    }

    /// <summary>With no answer from the family: transferred and nothing heard since, born at home, or unknown.</summary>
    private static SurveyCategory KnownPlace(in CarePath path, ref Day day)
    {
        if (path.Screen.NotPerformed == ScreeningReason.Transferred) return SurveyCategory.TransferredWithoutDocumentation;
        foreach (ref readonly var transfer in path.Facts.Transfers.AsSpan())
        {
            if (day.Reached(transfer.TransferredOn)) return SurveyCategory.TransferredWithoutDocumentation;
        }

        return path.Facts.Birth.Place == BirthPlace.Home ? SurveyCategory.Homebirth : SurveyCategory.Unknown;
    }

    /// <summary>Not (completely) screened, no ear referred, and evaluation began or was said to replace the screen.</summary>
    private static DateOnly? StraightToDiagnosticOn(in CarePath path)
    {
        if (path.Screen.CompleteOn is not null) return null;
        if (path.Diagnosis.FirstOn is { } began) return began;
        return path.Screen.NotPerformed == ScreeningReason.StraightToDiagnostic ? path.Screen.NotPerformedOn : null;
    }

    private static void DecideDiagnosis(ref CarePath path, ref Draft status, ref Day day)
    {
        ref readonly var diagnosis = ref path.Diagnosis;
        var declined = Presence.DeclinedOn(PathStep.Diagnosis, path.Facts, ref day);
        path.DiagnosisDeclined = declined is not null;

        var required = path.Screen.Refers || StraightToDiagnosticOn(path) is not null;
        if (!required)
        {
            status.DiagnosisCategory = SurveyCategory.NotApplicable;
            status.Diagnosed = DecideMilestone.NotRequired(path.DiagnosisDeadlineOn, path.Conclusion switch
            {
                ScreeningConclusion.Passed => "not required: passed screening (a pass does not exclude later hearing loss)",
                ScreeningConclusion.Incomplete => "not required so far: no ear referred, screening not complete",
                _ => "not required so far: not screened",
            });
            return;
        }

        var absent = !path.Absent.IsNone ? path.Absent : declined is { } on ? new AbsentSince(Absence.Declined, on) : default;
        status.Diagnosed = DecideMilestone.Decide(
            PathStep.Diagnosis, path.Born, path.DiagnosisDeadlineOn, diagnosis.CompleteOn, absent, diagnosis.FirstOn is not null, ref day,
            showed: Showed.Of(diagnosis.Hearing));
        path.DiagnosisOpen = diagnosis.CompleteOn is null && absent.IsNone;

        if (diagnosis.CompleteOn is not null) status.DiagnosisCategory = SurveyCategory.Completed;
        else if (!absent.IsNone) status.DiagnosisCategory = DecideLoss.OfAbsence(absent.Kind, PathStep.Diagnosis);
        else
        {
            var hold = diagnosis.LastOn?.AddDays(path.Policy.DiagnosisInProcessDays);
            if (SeenAgainOn(path) is { } again && !(hold >= again.AddDays(path.Policy.LossGraceDays)))
                hold = again.AddDays(path.Policy.LossGraceDays);
            // A family in early intervention on a provisional finding is not lost.
            var category = OnProvisionalLoss(path) ? SurveyCategory.InProcess
                : DecideLoss.Of(PathStep.Diagnosis, path, path.DiagnosisDeadlineOn, hold, ref day);
            SetCategory(PathStep.Diagnosis, category, ref status.DiagnosisCategory, ref status);
        }
    }

    /// <summary>When an evaluation under way is to be gone on with, where the audiologist said or the middle ear is treated
    /// first.</summary>
    internal static DateOnly? SeenAgainOn(in CarePath path) =>
        path.Diagnosis.NextOn ?? (path.Diagnosis.MiddleEarOn is { } seen ? path.Policy.MiddleEarReevaluation.LastDay(seen) : null);

    private static bool OnProvisionalLoss(in CarePath path) => path.Diagnosis is { PermanentLossOn: null, ProvisionalLoss: true }
        && (path.Intervention.EnrolledOn is not null
            || path.Policy.ServicePlanCountsAsEnrolled && path.Intervention.ServicePlanOn is not null);

    private static void DecideIntervention(ref CarePath path, ref Draft status, ref Day day)
    {
        ref readonly var came = ref path.Intervention;
        var declined = Presence.DeclinedOn(PathStep.Intervention, path.Facts, ref day);
        path.InterventionDeclined = declined is not null;

        var provisional = OnProvisionalLoss(path);
        if (provisional) status.Flags |= StatusFlags.DiagnosisToBeConfirmed;
        if (path.Diagnosis.PermanentLossOn is null && !provisional)
        {
            status.InterventionCategory = SurveyCategory.NotApplicable;
            status.Enrolled = DecideMilestone.NotRequired(path.InterventionDeadlineOn, path.Diagnosis.Hearing switch
            {
                HearingConclusion.Normal => "not required: no hearing loss found (this does not exclude later hearing loss)",
                HearingConclusion.NonPermanentLoss => "not required: no permanent hearing loss found",
                HearingConclusion.InProcess => "not required so far: diagnosis not final",
                _ => "not required so far: no hearing loss diagnosed",
            });
            return;
        }

        // Found after a passed screen, or after an evaluation had found no permanent loss: the clock starts with the finding.
        if (path.Diagnosis.PermanentLossOn is { } identified
            && (path.Conclusion == ScreeningConclusion.Passed || path.Diagnosis.LossAfterClearing))
        {
            var afterFinding = identified.AddDays(PartC.ServicePlanDays);
            if (afterFinding > path.InterventionDeadlineOn) path.InterventionDeadlineOn = afterFinding;
        }

        var enrolledOn = came.EnrolledOn;
        if (path.Policy.ServicePlanCountsAsEnrolled && came.ServicePlanOn is { } planned && !(enrolledOn <= planned)) enrolledOn = planned;
        path.Intervention.EnrolledOn = enrolledOn;

        var absent = !path.Absent.IsNone ? path.Absent
            : declined is { } on ? new AbsentSince(Absence.Declined, on)
            : came.NotEligibleOn is { } decided ? new AbsentSince(Absence.NotEligible, decided)
            : default;
        status.Enrolled = DecideMilestone.Decide(
            PathStep.Intervention, path.Born, path.InterventionDeadlineOn, enrolledOn, absent, came.ClockFrom is not null, ref day,
            provisional ? Doubt.Provisional : Doubt.None);
        path.InterventionOpen = enrolledOn is null && absent.IsNone;

        if (enrolledOn is not null) status.InterventionCategory = SurveyCategory.Completed;
        else if (!absent.IsNone) status.InterventionCategory = DecideLoss.OfAbsence(absent.Kind, PathStep.Intervention);
        else if (came.Elsewhere) status.InterventionCategory = SurveyCategory.Other;
        else
        {
            var hold = came.LastOn?.AddDays(PartC.ServicePlanDays);
            var category = DecideLoss.Of(PathStep.Intervention, path, path.InterventionDeadlineOn, hold, ref day);
            SetCategory(PathStep.Intervention, category, ref status.InterventionCategory, ref status);
        }
    }

    private static void SetCategory(PathStep step, SurveyCategory category, ref SurveyCategory into, ref Draft status)
    {
        into = category;
        var loss = DecideLoss.ToLoss(category);
        if (loss == LossState.None || status.LostAt is not null) return;
        status.Loss = loss;
        status.LostAt = step;
    }
}

/// <summary>Part C of the Individuals with Disabilities Education Act: a program may not choose these.</summary>
public static class PartC
{
    /// <summary>34 CFR 303.303(a)(2)(i): referral no more than seven calendar days after identification (F).</summary>
    public const int ReferralDays = 7;

    /// <summary>34 CFR 303.310: service plan meeting within 45 days of the receipt of the referral (F). JCIH 2007 asks the same for a
    /// hearing loss identified late (M).</summary>
    public const int ServicePlanDays = 45;
}
