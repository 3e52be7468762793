using Registry.Rules.Facts;

namespace Registry.Rules.Tests.Oracle;

/// <summary>
/// Section 8: the line of the national survey, and where the family is lost. Source: the lines of the CDC's survey (HSFS); the grace, the
/// attempts asked for and what holds a family are common practice.
/// </summary>
internal sealed class SlowCategories(
    KnownFacts known, SlowScreening screening, SlowDiagnosis diagnosis, SlowAbsences absences, SlowMilestones milestones)
{
    public SurveyCategory OfScreening =>
        screening.CompleteOn is not null ? SurveyCategory.Completed
        : absences.FromScreening is { } absent ? LineOf(absent, PathStep.Screening)
        : screening.NotPerformedFor(ScreeningReason.MedicalExclusion) ? SurveyCategory.Medical
        : ByLoss(PathStep.Screening, milestones.ScreeningBy, null);

    public SurveyCategory OfDiagnosis =>
        !milestones.NeedsDiagnosis ? SurveyCategory.NotApplicable
        : diagnosis.CompleteOn is not null ? SurveyCategory.Completed
        : absences.FromDiagnosis is { } absent ? LineOf(absent, PathStep.Diagnosis)
        : milestones.ToBeConfirmed ? SurveyCategory.InProcess
        : ByLoss(PathStep.Diagnosis, milestones.DiagnosisBy, new[]
        {
            known.LastVisit?.AddDays(known.Policy.DiagnosisInProcessDays), SeenAgain?.AddDays(known.Policy.LossGraceDays),
        }.Max());

    /// <summary>The audiologist's date, else the policy's time after a conductive finding that is not definitive.</summary>
    private DateOnly? SeenAgain => diagnosis.NextSet
        ?? (diagnosis.MiddleEar is { } on ? KnownFacts.LastDay(known.Policy.MiddleEarReevaluation, on) : null);

    public SurveyCategory OfIntervention =>
        !milestones.NeedsIntervention ? SurveyCategory.NotApplicable
        : milestones.EnrolledOn is not null ? SurveyCategory.Completed
        : absences.FromIntervention is { } absent ? LineOf(absent, PathStep.Intervention)
        : ServedElsewhere ? SurveyCategory.Other
        : ByLoss(PathStep.Intervention, milestones.InterventionBy,
            known.Events.Where(e => e.Kind != InterventionKind.CmvTested).Select(e => (DateOnly?)e.HappenedOn).Max()?.AddDays(45));

    /// <summary>Services of others than Part C, or monitoring, and no end of services on a later day (the survey's lines, from
    /// memory).</summary>
    private bool ServedElsewhere => known.Events.Any(e => e.Kind is InterventionKind.OtherServices or InterventionKind.MonitoringOnly
        && !known.Events.Any(o => o.Kind == InterventionKind.Ended && o.HappenedOn > e.HappenedOn));

    /// <summary>The first step at which the family is lost.</summary>
    public (LossState Loss, PathStep? At) Lost
    {
        get
        {
            foreach (var (step, category) in new[]
            {
                (PathStep.Screening, OfScreening), (PathStep.Diagnosis, OfDiagnosis), (PathStep.Intervention, OfIntervention),
            })
            {
                if (category is SurveyCategory.Unresponsive or SurveyCategory.UnableToContact) return (LossState.LostToFollowUp, step);
                if (category == SurveyCategory.Unknown) return (LossState.LostToDocumentation, step);
            }

            return (LossState.None, null);
        }
    }

    private SurveyCategory ByLoss(PathStep step, DateOnly by, DateOnly? heldUntil)
    {
        if (known.All.MedicalDelays.Any(d => d.Step == step && known.Holds(d.FromOn, d.EndedOn))) return SurveyCategory.Medical;

        // Attempts to reach the old family say nothing of the new one.
        var contacts = known.All.ContactAttempts
            .Where(c => c.Step == step && known.By(c.AttemptedOn) && !(c.AttemptedOn < absences.NewFamily)).ToList();
        var graceFrom = new[] { by, new SlowHospital(known).Home ?? by, absences.NewFamily ?? by }.Max();
        var inProcessUntil = contacts.Where(c => c.Outcome == ContactOutcome.AppointmentMade)
            .Select(c => c.AttemptedOn.AddDays(known.Policy.AppointmentHoldDays))
            .Append(graceFrom.AddDays(known.Policy.LossGraceDays)).Append(heldUntil ?? DateOnly.MinValue).Max();
        if (known.AsOf <= inProcessUntil) return SurveyCategory.InProcess;

        if (contacts.Count >= known.Policy.ContactAttemptsForLoss)
            return contacts.All(c => c.Outcome == ContactOutcome.UnableToContact)
                ? SurveyCategory.UnableToContact
                : SurveyCategory.Unresponsive;
        if (step != PathStep.Screening) return SurveyCategory.Unknown;
        if (screening.NotPerformedFor(ScreeningReason.Transferred) || known.All.Transfers.Any(t => known.By(t.TransferredOn)))
            return SurveyCategory.TransferredWithoutDocumentation;
        return known.All.Birth.Place == BirthPlace.Home ? SurveyCategory.Homebirth : SurveyCategory.Unknown;
    }

    private static SurveyCategory LineOf(Absent absent, PathStep step) => absent.Why switch
    {
        "died" => SurveyCategory.Died,
        "adopted" => step == PathStep.Intervention ? SurveyCategory.Adopted : SurveyCategory.NonResidentOrMoved,
        "moved" => SurveyCategory.NonResidentOrMoved,
        "declined" => SurveyCategory.Declined,
        "straight" => SurveyCategory.StraightToDiagnostic,
        _ => SurveyCategory.NotEligible,
    };
}
