using Registry.Rules.Facts;

namespace Registry.Rules.Milestones;

/// <summary>First day of each thing that happened on the way to early intervention.</summary>
internal struct Intervention
{
    public DateOnly? ReferredOn, EnrolledOn, ServicePlanOn, FittedOn, EndedOn;

    /// <summary>Set while the last decision on eligibility is no.</summary>
    public DateOnly? NotEligibleOn;
    public bool AmplificationDeclined;

    /// <summary>The last day anything was reported.</summary>
    public DateOnly? LastOn;
    public bool Conflict;
}

internal static class ConcludeIntervention
{
    public static Intervention From(InfantFacts facts, ref Day day)
    {
        var found = new Intervention();
        DateOnly? eligible = null;
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
            if (!(found.LastOn >= on)) found.LastOn = on;
            switch (happened.Kind)
            {
                case InterventionKind.Referred: Earliest(ref found.ReferredOn, on); break;
                case InterventionKind.Eligible: Latest(ref eligible, on); break;
                case InterventionKind.NotEligible: Latest(ref found.NotEligibleOn, on); break;
                case InterventionKind.Enrolled: Earliest(ref found.EnrolledOn, on); break;
                case InterventionKind.ServicePlan: Earliest(ref found.ServicePlanOn, on); break;
                case InterventionKind.AmplificationFitted: Earliest(ref found.FittedOn, on); break;
                case InterventionKind.Ended: Latest(ref found.EndedOn, on); break;
                case InterventionKind.AmplificationDeclined: found.AmplificationDeclined = true; break;
                default: throw new ArgumentOutOfRangeException(nameof(facts), happened.Kind, "Unknown kind of intervention event.");
            }
        }

        if (eligible >= found.NotEligibleOn) found.NotEligibleOn = null;
        return found;

        static void Earliest(ref DateOnly? kept, DateOnly on)
        {
            if (!(kept <= on)) kept = on;
        }

        static void Latest(ref DateOnly? kept, DateOnly on)
        {
            if (!(kept >= on)) kept = on;
        }
    }
}
