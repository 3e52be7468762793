namespace Registry.Rules;

// How age at a step is estimated while a cohort is in progress.
public sealed partial record Policy
{
    [Choice("Completely reported after, days",
        "Curves follow infants to the last day that is completely reported: so many days before the moment facts were known. What happened "
            + "later is known of some only, and those still waiting would look as if they waited.",
        "Sites send late and in bursts; the days are ours.", SourceMark.Ours)]
    public int ReportingDays { get; init; } = 60;

    [Choice("At risk for an estimate", "Fewer infants followed at an age than this, and no estimate is made for it.", "The number is ours.",
        SourceMark.Ours)]
    public int CurveMinimum { get; init; } = 10;

    /// <summary>The last day that is completely reported on a day.</summary>
    public DateOnly ReportedThrough(DateOnly asOf, DateOnly knownOn)
    {
        var reported = knownOn.AddDays(-ReportingDays);
        return reported < asOf ? reported : asOf;
    }
}
