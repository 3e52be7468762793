using Registry.Rules.Facts;

namespace Registry.Rules.Tests.Oracle;

/// <summary>
/// Part C. Sources: 34 CFR 303.303(a)(2)(i), referral "as soon as possible, but in no case more than seven days, after the child has been
/// identified"; 303.310(a), the meeting "within 45 days from the date the lead agency or EIS provider receives the referral"; (b),
/// "does not apply
/// for any period when" the family is unavailable for documented exceptional circumstances or has given no consent; 303.21, under three
/// years.
/// </summary>
internal sealed class SlowPartC(KnownFacts known, SlowAbsences absences, SlowMilestones milestones)
{
    private static readonly InterventionKind[] Beginnings =
        [InterventionKind.Referred, InterventionKind.ReferralReceived, InterventionKind.Enrolled, InterventionKind.ServicePlan];

    /// <summary>Ended, and nothing began on a later day.</summary>
    private bool Over => known.Last(InterventionKind.Ended) is { } end
        && !known.Events.Any(e => Beginnings.Contains(e.Kind) && e.HappenedOn > end);

    /// <summary>What is in force: events after the last end, or after a no on eligibility that a new referral followed.</summary>
    private InterventionEvent[] InForce
    {
        get
        {
            var asked = absences.SaidNo is { } no && absences.ReferredAfter(no) ? no : (DateOnly?)null;
            var since = new[] { known.Last(InterventionKind.Ended), asked }.Max();
            return [.. known.Events.Where(e => !(e.HappenedOn <= since))];
        }
    }

    private DateOnly? First(params InterventionKind[] kinds) =>
        InForce.Where(e => kinds.Contains(e.Kind)).Select(e => (DateOnly?)e.HappenedOn).Min();

    public IEnumerable<SlowDue> Dues(DateOnly identified)
    {
        if (absences.Declined(PathStep.Intervention) is not null || known.By(known.Born.AddYears(known.Policy.PartCUntilYears)))
            yield break;
        if (milestones.InterventionOpen && !Over)
            yield return new(milestones.InterventionBy, DueStep.EnrolInIntervention, "intervention.deadline");
        if (Over || absences.NotEligibleOn is not null) yield break;

        var received = First(InterventionKind.ReferralReceived) ?? First(InterventionKind.Referred);
        if (received is null && First(InterventionKind.Enrolled, InterventionKind.ServicePlan) is null)
            yield return new(identified.AddDays(7), DueStep.ReferToIntervention, "intervention.referral");
        if (received is not { } from || First(InterventionKind.ServicePlan) is not null || StandsStillOn(known.AsOf)) yield break;

        // Day by day: 45 days on which the clock ran, up to the last change known.
        var stood = 0;
        for (var day = from; day <= known.AsOf; day = day.AddDays(1))
            if (StandsStillOn(day)) stood++;
        yield return new(from.AddDays(45 + stood), DueStep.ServicePlan, "intervention.service-plan");
    }

    /// <summary>A reason began on or before the day, and no end of it lies between (the day it ends runs again).</summary>
    private bool StandsStillOn(DateOnly day) =>
        known.Events.Any(e => e.Kind is InterventionKind.FamilyDelay or InterventionKind.ConsentAwaited && e.HappenedOn <= day
            && !known.Events.Any(o => o.Kind == InterventionKind.DelayEnded && o.HappenedOn >= e.HappenedOn && o.HappenedOn <= day));
}
