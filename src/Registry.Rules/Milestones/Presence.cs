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
            if (day.Reached(move.MovedOn) && (last < 0 || IsLater(move, facts.Moves[last]))) last = i;
        }

        if (last < 0) return default;
        return facts.Moves[last] switch
        {
            { Kind: MoveKind.Returned } => default,
            { Kind: MoveKind.Adopted } adopted => new(Absence.Adopted, adopted.MovedOn),
            var left => new(Absence.Moved, left.MovedOn),
        };

        // On one day a return is taken to come last.
        static bool IsLater(in Move a, in Move b) => a.MovedOn > b.MovedOn || a.MovedOn == b.MovedOn && a.Kind > b.Kind;
    }

    /// <summary>The day the family declined the step, when that stands.</summary>
    public static DateOnly? DeclinedOn(PathStep step, InfantFacts facts, ref Day day)
    {
        DateOnly? declined = null;
        foreach (ref readonly var refusal in facts.Refusals.AsSpan())
        {
            if (refusal.Step != step || !day.Reached(refusal.RefusedOn)) continue;
            if (refusal.RevokedOn is { } revoked && day.Reached(revoked)) continue;
            if (!(declined <= refusal.RefusedOn)) declined = refusal.RefusedOn;
        }

        return declined;
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
    public static bool LongNicuStay(InfantFacts facts, Policy policy, ref Day day)
    {
        if (facts.Birth.NicuAdmittedOn is { } admitted && day.Reached(admitted))
        {
            var tooLong = admitted.AddDays(policy.NicuDays + 1);
            if ((facts.Birth.NicuDischargedOn is not { } discharged || discharged >= tooLong) && day.Reached(tooLong)) return true;
        }

        foreach (ref readonly var risk in facts.RiskIndicators.AsSpan())
        {
            if (risk.Kind == RiskIndicatorKind.NicuOverFiveDays && day.Reached(risk.NotedOn)) return true;
        }

        return false;
    }
}
