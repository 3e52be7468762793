using Registry.Rules.Facts;

namespace Registry.Rules.Milestones;

/// <summary>Why a step is not asked of a family.</summary>
internal enum Absence { None, Died, Moved, Adopted, Declined, StraightToDiagnostic, NotEligible }

/// <summary>An absence and the day it began.</summary>
internal readonly record struct AbsentSince(Absence Kind, DateOnly On)
{
    public bool IsNone => Kind == Absence.None;
}

/// <summary>Died, left, declined: as they stand on the day. Leaving and declining can be taken back.</summary>
internal static class Presence
{
    public static AbsentSince OfInfant(InfantFacts facts, ref Day day)
    {
        if (facts.DiedOn is { } died && day.Reached(died)) return new(Absence.Died, died);
        var last = -1;
        for (var i = 0; i < facts.Moves.Length; i++)
        {
            ref readonly var move = ref facts.Moves[i];
            if (move.Kind != MoveKind.HandedOff && day.Reached(move.MovedOn) && (last < 0 || IsLater(move, facts.Moves[last]))) last = i;
        }

        if (last < 0) return default;
        return facts.Moves[last] switch
        {
            { Kind: MoveKind.Returned or MoveKind.AdoptedWithinRegion } => default,
            { Kind: MoveKind.Adopted } adopted => new(Absence.Adopted, adopted.MovedOn),
            var left => new(Absence.Moved, left.MovedOn),
        };

        // On one day a return is taken to come last, or the new family.
        static bool IsLater(in Move a, in Move b) => a.MovedOn > b.MovedOn || a.MovedOn == b.MovedOn && a.Kind > b.Kind;
    }

    /// <summary>The day the family declined the step, when that stands: not taken back, and the family has not acted since.</summary>
    public static DateOnly? DeclinedOn(PathStep step, InfantFacts facts, ref Day day)
    {
        DateOnly? declined = null;
        foreach (ref readonly var refusal in facts.Refusals.AsSpan())
        {
            if (refusal.Step != step || !day.Reached(refusal.RefusedOn)) continue;
            if (refusal.RevokedOn is { } revoked && day.Reached(revoked)) continue;
            if (!(declined <= refusal.RefusedOn) && !ActedAfter(refusal.RefusedOn, step, facts, ref day)) declined = refusal.RefusedOn;
        }

        return declined;
    }

    /// <summary>On a later day than this the family came for the step, made an appointment for it, or is another family.</summary>
    public static bool ActedAfter(DateOnly refusedOn, PathStep step, InfantFacts facts, ref Day day)
    {
        foreach (ref readonly var contact in facts.ContactAttempts.AsSpan())
        {
            if (contact.Step == step && contact.Outcome == ContactOutcome.AppointmentMade
                && IsLater(contact.AttemptedOn, ref day)) return true;
        }

        foreach (ref readonly var move in facts.Moves.AsSpan())
        {
            if (move.Kind == MoveKind.AdoptedWithinRegion && IsLater(move.MovedOn, ref day)) return true;
        }

        return step switch
        {
            PathStep.Screening => Screened(ref day),
            PathStep.Diagnosis => Evaluated(ref day),
            _ => Enrolled(ref day),
        };

        bool IsLater(DateOnly on, ref Day day) => on > refusedOn && day.Reached(on);

        bool Screened(ref Day day)
        {
            foreach (ref readonly var test in facts.Tests.AsSpan())
            {
                if (test.Outcome != ScreeningOutcome.NotPerformed && IsLater(DateOnly.FromDateTime(test.PerformedAt), ref day)) return true;
            }

            return false;
        }

        bool Evaluated(ref Day day)
        {
            foreach (ref readonly var evaluation in facts.Evaluations.AsSpan())
            {
                if (IsLater(evaluation.EvaluatedOn, ref day)) return true;
            }

            return false;
        }

        bool Enrolled(ref Day day)
        {
            foreach (ref readonly var happened in facts.Interventions.AsSpan())
            {
                if (happened.Kind is InterventionKind.Enrolled or InterventionKind.ServicePlan && IsLater(happened.HappenedOn, ref day))
                    return true;
            }

            return false;
        }
    }

    /// <summary>The day the child came to another family of the region; its refusals and silences are not the new family's.</summary>
    public static DateOnly? NewFamilyOn(InfantFacts facts, ref Day day)
    {
        DateOnly? last = null;
        foreach (ref readonly var move in facts.Moves.AsSpan())
        {
            if (move.Kind == MoveKind.AdoptedWithinRegion && day.Reached(move.MovedOn) && !(last >= move.MovedOn)) last = move.MovedOn;
        }

        return last;
    }

    public static bool MedicallyDelayed(PathStep step, InfantFacts facts, ref Day day)
    {
        foreach (ref readonly var delay in facts.MedicalDelays.AsSpan())
        {
            if (delay.Step == step && day.Reached(delay.FromOn) && !(delay.EndedOn is { } ended && day.Reached(ended))) return true;
        }

        return false;
    }

    /// <summary>More than the policy's days in the NICU, by its dates or as a reported risk indicator.</summary>
    public static bool LongNicuStay(InfantFacts facts, in BirthStay stay, Policy policy, ref Day day)
    {
        if (facts.Birth.NicuAdmittedOn is { } admitted && day.Reached(admitted))
        {
            var tooLong = admitted.AddDays(policy.NicuDays + 1);
            if ((stay.NicuEndedOn(facts.Birth) is not { } ended || ended >= tooLong) && day.Reached(tooLong)) return true;
        }

        foreach (ref readonly var risk in facts.RiskIndicators.AsSpan())
        {
            if (risk.Kind == RiskIndicatorKind.NicuOverFiveDays && day.Reached(risk.NotedOn)) return true;
        }

        return false;
    }
}
