namespace Registry.Rules;

// What leaves the registry.
public sealed partial record Policy
{
    [Choice("Small count", "A released count that is not zero and below this is hidden, with what would give it away.",
        "A state health department's rule: below 10; others use 5, 6 or 16.", SourceMark.Found)]
    public int ReleaseThreshold { get; init; } = 10;

    [Choice("Protection interval",
        "A hidden small count could be larger or smaller by at least so much, as far as a count can be, from all that is released "
            + "together.",
        "Interval protection of statistical tables (L. H. Cox, JASA 1995;90:1453); its width is ours.", SourceMark.Ours)]
    public int ReleaseProtection { get; init; } = 3;

    [Choice("Released after, months",
        "Figures of a year of births are released once, as of the last day of this month after the year: later figures of the same "
            + "infants could be subtracted.",
        "By then every infant is past six months of age and the grace days; the month is ours.", SourceMark.Ours)]
    public int ReleaseAfterMonths { get; init; } = 10;

    /// <summary>The one as-of date for which figures of a year of births are released.</summary>
    public DateOnly ReleaseDay(int year) => new DateOnly(year + 1, 1, 1).AddMonths(ReleaseAfterMonths).AddDays(-1);
}
