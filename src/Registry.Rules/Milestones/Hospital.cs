using Registry.Rules.Facts;

namespace Registry.Rules.Milestones;

/// <summary>What is known of the infant being in hospital: in the NICU, or admitted again.</summary>
internal readonly record struct Hospital(bool IsIn, DateOnly? Until)
{
    /// <summary>Stays begun by the day. One whose end was never reported is believed for the policy's days, so that nobody is forgotten.
    /// <see cref="Until"/> is the last of their ends; on that day the infant is home.</summary>
    public static Hospital On(InfantFacts facts, in BirthStay stay, Policy policy, ref Day day)
    {
        var found = new Hospital(false, null);
        if (facts.Birth.NicuAdmittedOn is { } nicu)
            found = found.With(nicu, stay.EndedOn ?? nicu.AddDays(policy.InpatientDays), ref day);
        foreach (ref readonly var again in facts.Readmissions.AsSpan())
            found = found.With(again.AdmittedOn, again.DischargedOn ?? again.AdmittedOn.AddDays(policy.InpatientDays), ref day);
        return found;
    }

    private Hospital With(DateOnly from, DateOnly until, ref Day day)
    {
        if (!day.Reached(from)) return this;
        var isIn = !day.Reached(until);
        return new(IsIn || isIn, Until >= until ? Until : until);
    }
}
