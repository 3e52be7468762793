using Registry.Rules.Facts;
using Registry.Rules.Milestones;
using Registry.Rules.Screening;
using Registry.Rules.Surveillance;

namespace Registry.Rules;

/// <summary>From an infant's facts, a policy and a day: where the infant stands.</summary>
public static class EvaluateInfant
{
    /// <param name="facts">The facts as known; those that happened after <paramref name="asOf"/> are ignored.</param>
    /// <param name="policy">The policy in force.</param>
    /// <param name="asOf">The day the answer is for; on or after the birth date.</param>
    /// <exception cref="ArgumentOutOfRangeException"><paramref name="asOf"/> is before the birth date.</exception>
    public static InfantStatus Evaluate(InfantFacts facts, Policy policy, DateOnly asOf)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(asOf, facts.Birth.Date);
        On(facts, policy, asOf, out var status, out var next);
        return status.ToStatus(next == DateOnly.MaxValue ? null : NextChange(facts, policy, status, next));
    }

    /// <summary>The first of the days on which something could differ, on which something does.</summary>
    private static DateOnly? NextChange(InfantFacts facts, Policy policy, in Draft status, DateOnly next)
    {
        while (next < DateOnly.MaxValue)
        {
            On(facts, policy, next, out var later, out var afterThat);
            if (!status.SameAs(later)) return next;
            next = afterThat;
        }

        return null;
    }

    /// <summary>The status on one day, and the soonest later day on which any comparison with the day could differ.</summary>
    private static void On(InfantFacts facts, Policy policy, DateOnly asOf, out Draft status, out DateOnly next)
    {
        status = default;
        var day = new Day(asOf);
        var birth = facts.Birth;
        var countFrom = policy.CountFrom(birth);
        var stay = BirthStay.Of(facts, policy);

        var screen = ConcludeScreening.From(facts, policy, ConcludeDiagnosis.FirstEvaluatedOn(facts, ref day), ref day);
        var (right, left) = (screen.Right.ToResult(), screen.Left.ToResult());
        var diagnosis = ConcludeDiagnosis.From(facts, policy, right, left, ref day);
        var intervention = ConcludeIntervention.From(facts, ref day);
        var path = new CarePath
        {
            Facts = facts,
            Policy = policy,
            Screen = screen,
            Conclusion = screen.Conclusion,
            Diagnosis = diagnosis,
            Intervention = intervention,
            Absent = Presence.OfInfant(facts, ref day),
            LongNicuStay = Presence.LongNicuStay(facts, stay, policy, ref day),
            Hospital = Hospital.On(facts, stay, policy, ref day),
            ScreeningDeadlineOn = policy.ScreeningDeadline.LastDay(countFrom),
            DiagnosisDeadlineOn = policy.DiagnosisDeadline.LastDay(countFrom),
            InterventionDeadlineOn = policy.InterventionDeadline.LastDay(countFrom),
        };

        status.Right = right;
        status.Left = left;
        status.Screening = path.Conclusion;
        status.Hearing = diagnosis.Hearing;
        status.RightHearing = diagnosis.Right;
        status.LeftHearing = diagnosis.Left;
        status.IdentifiedOn = diagnosis.PermanentLossOn;
        status.ScreenDecidedOn = screen.DecidedOn;
        status.BirthStay = stay;
        status.Flags = screen.Flags;
        if (diagnosis.Conflict || intervention.Conflict || BirthDatesConflict(birth)) status.Flags |= StatusFlags.FactsConflict;
        if (path.LongNicuStay && path.Conclusion == ScreeningConclusion.Passed && (screen.Right.OaeOnlyPass || screen.Left.OaeOnlyPass))
            status.Flags |= StatusFlags.OaeOnlyInNicu;
        if (path.Hospital.IsIn && path.Absent.IsNone) status.Flags |= StatusFlags.Inpatient;

        WalkPath.Decide(ref path, ref status, ref day);
        ListDues.Into(ref status, path, ref day);
        DueSurveillance.Into(ref status, path, ref day);
        status.ResponsibleSiteId = policy.WhoDischargesIsResponsible ? ResponsibleSite(facts, ref day) : birth.SiteId;
        next = day.Next;
    }

    private static bool BirthDatesConflict(in Birth birth) =>
        birth.DischargedOn < birth.Date || birth.NicuAdmittedOn < birth.Date || birth.DischargedOn < birth.NicuAdmittedOn
            || birth.NicuDischargedOn < (birth.NicuAdmittedOn ?? birth.Date);

    private static Guid? ResponsibleSite(InfantFacts facts, ref Day day)
    {
        var last = new Transfer(DateOnly.MinValue, Guid.Empty);
        foreach (ref readonly var transfer in facts.Transfers.AsSpan())
        {
            if (!day.Reached(transfer.TransferredOn)) continue;
            if (transfer.TransferredOn > last.TransferredOn
                || transfer.TransferredOn == last.TransferredOn && transfer.ToSiteId.CompareTo(last.ToSiteId) > 0)
                last = transfer;
        }

        return last.TransferredOn == DateOnly.MinValue ? facts.Birth.SiteId : last.ToSiteId;
    }
}
