using Registry.Rules.Facts;

namespace Registry.Rules.Milestones;

/// <summary>The survey category of a step that is open, and whether the family is lost at it.</summary>
internal static class DecideLoss
{
    /// <summary>
    /// A step counts as lost once its deadline and the policy's grace are over, no appointment or other evidence
    /// (<paramref name="holdUntil"/>) holds it, and no medical reason stands. With enough documented attempts to reach the
    /// family it is lost to follow-up, otherwise to documentation. A stay in hospital holds it, and the grace after it; so does coming
    /// to a new family, which attempts to reach the old one say nothing of. Any new evidence undoes it.
    /// </summary>
    public static SurveyCategory Of(PathStep step, in CarePath path, DateOnly deadlineOn, DateOnly? holdUntil, ref Day day)
    {
        var (facts, policy) = (path.Facts, path.Policy);
        if (Presence.MedicallyDelayed(step, facts, ref day)) return SurveyCategory.Medical;

        var newFamilyOn = Presence.NewFamilyOn(facts, ref day);
        var from = deadlineOn;
        if (path.Hospital.Until > from) from = path.Hospital.Until.Value;
        if (newFamilyOn > from) from = newFamilyOn.Value;
        var lastDay = from.AddDays(policy.LossGraceDays);
        if (holdUntil > lastDay) lastDay = holdUntil.Value;
        var (attempts, answered) = (0, false);
        foreach (ref readonly var attempt in facts.ContactAttempts.AsSpan())
        {
            if (attempt.Step != step || attempt.AttemptedOn < newFamilyOn || !day.Reached(attempt.AttemptedOn)) continue;
            attempts++;
            answered |= attempt.Outcome != ContactOutcome.UnableToContact;
            if (attempt.Outcome != ContactOutcome.AppointmentMade) continue;
            var hold = attempt.AttemptedOn.AddDays(policy.AppointmentHoldDays);
            if (hold > lastDay) lastDay = hold;
        }

        if (!day.Past(lastDay)) return SurveyCategory.InProcess;
        if (attempts < policy.ContactAttemptsForLoss) return SurveyCategory.Unknown;
        return answered ? SurveyCategory.Unresponsive : SurveyCategory.UnableToContact;
    }

    public static LossState ToLoss(SurveyCategory category) => category switch
    {
        SurveyCategory.Unresponsive or SurveyCategory.UnableToContact => LossState.LostToFollowUp,
        SurveyCategory.Unknown => LossState.LostToDocumentation,
        _ => LossState.None,
    };

    public static SurveyCategory OfAbsence(Absence absence, PathStep step) => absence switch
    {
        Absence.Died => SurveyCategory.Died,
        Absence.Adopted when step == PathStep.Intervention => SurveyCategory.Adopted,
        Absence.Moved or Absence.Adopted => SurveyCategory.NonResidentOrMoved,
        Absence.Declined => SurveyCategory.Declined,
        Absence.StraightToDiagnostic => SurveyCategory.StraightToDiagnostic,
        Absence.NotEligible => SurveyCategory.NotEligible,
        _ => SurveyCategory.NotApplicable,
    };
}
