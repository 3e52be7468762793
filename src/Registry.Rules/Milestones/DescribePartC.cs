using Registry.Rules.Facts;

namespace Registry.Rules.Milestones;

/// <summary>
/// The two clocks of Part C (34 CFR 303.303 and 303.310), measured: the referral, no more than seven days after the hearing loss was
/// identified, and the service plan, within 45 days of the receipt of the referral in force.
/// </summary>
/// <param name="IdentifiedOn">The day the present stretch of permanent hearing loss began.</param>
/// <param name="ReferredOn">The first referral; before the finding is in time too.</param>
/// <param name="ReceivedOn">The receipt of the referral in force; null when it was not reported and the day of referral stands for
/// it.</param>
/// <param name="PlanBy">The last day for the plan; null without a referral.</param>
/// <param name="PlannedOn">The first plan since early intervention last ended.</param>
/// <param name="PausedDays">Days the 45 stood still: family circumstances, or no consent.</param>
/// <param name="Paused">They stand still now.</param>
public sealed record PartCClocks(
    DateOnly IdentifiedOn, DateOnly? ReferredOn, DateOnly? ReceivedOn, DateOnly? PlanBy, DateOnly? PlannedOn, int PausedDays, bool Paused)
{
    public DateOnly ReferBy => IdentifiedOn.AddDays(PartC.ReferralDays);

    /// <summary>Days from finding to referral; 0 when it was referred before.</summary>
    public int? DaysToReferral => ReferredOn is { } on ? Math.Max(0, on.DayNumber - IdentifiedOn.DayNumber) : null;
    public bool? ReferredInTime => ReferredOn is { } on ? on <= ReferBy : null;
    public bool? PlannedInTime => PlannedOn is { } on ? on <= PlanBy : null;
}

/// <summary>For the record page, and for the measures.</summary>
public static class DescribePartC
{
    /// <returns>Null without a permanent hearing loss.</returns>
    public static PartCClocks? On(InfantFacts facts, DateOnly? identifiedOn, DateOnly asOf)
    {
        if (identifiedOn is not { } identified) return null;
        var day = new Day(asOf);
        var came = ConcludeIntervention.From(facts, ref day);
        return new(identified, came.FirstReferredOn, came.ReceivedOn, came.ClockFrom?.AddDays(PartC.ServicePlanDays + came.PausedDays),
            came.PlannedOn, came.PausedDays, came.Paused);
    }
}
