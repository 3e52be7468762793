using Registry.Rules.Facts;

namespace Registry.Rules.Milestones;

/// <summary>What happened on the way to early intervention.</summary>
internal struct Intervention
{
    /// <summary>First day of each, of all time.</summary>
    public DateOnly? FirstReferredOn, EnrolledOn, ServicePlanOn, FittedOn;

    /// <summary>First day of each since early intervention last ended, or was refused as not eligible and asked for again: what the
    /// clocks of
    /// Part C run from.</summary>
    public DateOnly? ReferredOn, ReceivedOn, BegunOn, PlannedOn;

    /// <summary>Early intervention ended, and nothing began anew.</summary>
    public bool Ended;

    /// <summary>Set while the last word on eligibility is no, and no referral came after it.</summary>
    public DateOnly? NotEligibleOn;
    public bool AmplificationDeclined;

    /// <summary>The 45 days stand still today; and for how many days they have.</summary>
    public bool Paused;
    public int PausedDays;

    /// <summary>A targeted test for congenital CMV was taken.</summary>
    public bool CmvTested;

    /// <summary>The development of the child was assessed.</summary>
    public bool Assessed;

    /// <summary>Served elsewhere than in Part C, or only monitored, and that did not end since.</summary>
    public bool Elsewhere;

    /// <summary>The last day anything was reported.</summary>
    public DateOnly? LastOn;
    public bool Conflict;

    /// <summary>The referral in force was received on this day; not reported, it counts from the day of referral (common
    /// practice).</summary>
    public readonly DateOnly? ClockFrom => ReceivedOn ?? ReferredOn;
}

internal static class ConcludeIntervention
{
    public static Intervention From(InfantFacts facts, ref Day day)
    {
        var found = new Intervention();
        DateOnly? ended = null, restarted = null, eligible = null, referredLast = null, elsewhere = null;
        var pauses = false;
        foreach (ref readonly var happened in facts.Interventions.AsSpan())
        {
            var on = happened.HappenedOn;
            if (!day.Reached(on)) continue;
            if (on < facts.Birth.Date)
            {
                found.Conflict = true;
                continue;
            }

            if (facts.DiedOn is { } died && on > died && day.Reached(died)) found.Conflict = true;
            if (happened.Kind == InterventionKind.CmvTested)
            {
                found.CmvTested = true;
                continue;
            }

            Latest(ref found.LastOn, on);
            switch (happened.Kind)
            {
                case InterventionKind.Referred or InterventionKind.ReferralReceived:
                    Earliest(ref found.FirstReferredOn, on);
                    Latest(ref referredLast, on);
                    Latest(ref restarted, on);
                    break;
                case InterventionKind.Eligible: Latest(ref eligible, on); break;
                case InterventionKind.NotEligible: Latest(ref found.NotEligibleOn, on); break;
                case InterventionKind.Enrolled: Earliest(ref found.EnrolledOn, on); Latest(ref restarted, on); break;
                case InterventionKind.ServicePlan: Earliest(ref found.ServicePlanOn, on); Latest(ref restarted, on); break;
                case InterventionKind.AmplificationFitted: Earliest(ref found.FittedOn, on); break;
                case InterventionKind.Ended: Latest(ref ended, on); break;
                case InterventionKind.AmplificationDeclined: found.AmplificationDeclined = true; break;
                case InterventionKind.FamilyDelay or InterventionKind.ConsentAwaited or InterventionKind.DelayEnded: pauses = true; break;
                case InterventionKind.OtherServices or InterventionKind.MonitoringOnly: Latest(ref elsewhere, on); break;
                case InterventionKind.DevelopmentalAssessment: found.Assessed = true; break;
                case InterventionKind.AmplificationElected: break;
                default: throw new ArgumentOutOfRangeException(nameof(facts), happened.Kind, "Unknown kind of intervention event.");
            }
        }

        found.Elsewhere = elsewhere is not null && !(ended > elsewhere);
        found.Ended = ended is not null && !(restarted > ended);
        if (referredLast > found.NotEligibleOn && !(eligible >= found.NotEligibleOn)) Latest(ref ended, found.NotEligibleOn.Value);
        if (eligible >= found.NotEligibleOn || referredLast > found.NotEligibleOn) found.NotEligibleOn = null;
        Since(ended ?? DateOnly.MinValue, facts, ref found, ref day);
        if (pauses && found.ClockFrom is { } from) CountPauses(from, facts, ref found, ref day);
        return found;
    }

    /// <summary>The present stretch: what happened after the last one was over, or everything.</summary>
    private static void Since(DateOnly ended, InfantFacts facts, ref Intervention found, ref Day day)
    {
        foreach (ref readonly var happened in facts.Interventions.AsSpan())
        {
            var on = happened.HappenedOn;
            if (on <= ended || on < facts.Birth.Date || !day.Reached(on)) continue;
            if (happened.Kind == InterventionKind.Referred) Earliest(ref found.ReferredOn, on);
            if (happened.Kind == InterventionKind.ReferralReceived) Earliest(ref found.ReceivedOn, on);
            if (happened.Kind == InterventionKind.ServicePlan) Earliest(ref found.PlannedOn, on);
            if (happened.Kind is InterventionKind.ServicePlan or InterventionKind.Enrolled) Earliest(ref found.BegunOn, on);
        }
    }

    /// <summary>From a reason's day until the day it is over, that day not included; days are counted once. On one day its end comes
    /// last.</summary>
    private static void CountPauses(DateOnly from, InfantFacts facts, ref Intervention found, ref Day day)
    {
        var changes = new List<(DateOnly On, bool Ends)>();
        foreach (ref readonly var happened in facts.Interventions.AsSpan())
        {
            if (happened.HappenedOn < facts.Birth.Date || !day.Reached(happened.HappenedOn)) continue;
            if (happened.Kind is InterventionKind.FamilyDelay or InterventionKind.ConsentAwaited) changes.Add((happened.HappenedOn, false));
            else if (happened.Kind == InterventionKind.DelayEnded) changes.Add((happened.HappenedOn, true));
        }

        DateOnly? since = null;
        foreach (var (on, ends) in changes.Order())
        {
            if (!ends) since ??= on < from ? from : on;
            else if (since is { } start)
            {
                found.PausedDays += Math.Max(0, on.DayNumber - start.DayNumber);
                since = null;
            }
        }

        found.Paused = since is not null;
    }

    private static void Earliest(ref DateOnly? kept, DateOnly on)
    {
        if (!(kept <= on)) kept = on;
    }

    private static void Latest(ref DateOnly? kept, DateOnly on)
    {
        if (!(kept >= on)) kept = on;
    }
}
