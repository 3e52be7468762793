namespace Registry.Rules;

// How sites, instruments, probes and screeners are compared.
public sealed partial record Policy
{
    [Choice("False flags a year",
        "How many standing problems may be raised in the whole region in a year when nothing is wrong anywhere, all sites, instruments, "
            + "probes and screeners together and every night looked at: about one a month by default. Fewer means that real problems are "
            + "found later: refers that doubled at a site of 1,500 births within 30 days 88 times in a hundred with 12, 67 times with 2.",
        "The number is ours; what it finds was measured on imagined regions (docs/site-quality.md).", SourceMark.Ours)]
    public int FalseFlagsPerYear { get; init; } = 12;

    [Choice("Calibration, months",
        "Months from one calibration of an instrument or a probe to the next; whoever manages the site is reminded before. The "
            + "manufacturer's instructions and local rules come first.",
        "", SourceMark.CommonPractice)]
    public int CalibrationMonths { get; init; } = 12;

    [Choice("Arrival, days",
        "Nine in ten results are here within so many days of the test, where a site has agreed to no number of its own.", "",
        SourceMark.CommonPractice)]
    public int ArrivalDays { get; init; } = 7;

    [Choice("Sendings that pass by",
        "A result was kept back when the site sent others on so many days between its test and its arrival. One may be the day's own, sent "
            + "before the test.",
        "The number is ours.", SourceMark.Ours)]
    public int SkippedSendings { get; init; } = 2;

    [Choice("Kept back, percent", "A site or an instrument of which more than so many of a hundred results were kept back is marked.",
        "The number is ours.", SourceMark.Ours)]
    public int KeptBackPercent { get; init; } = 10;

    [Choice("Days of a burst", "Kept-back results of so many different days, received on one day, are a burst.", "The number is ours.",
        SourceMark.Ours)]
    public int BurstTestDays { get; init; } = 5;

    [Choice("Bursts, percent", "A site or an instrument of which more than so many of a hundred results came in bursts is marked.",
        "The number is ours.", SourceMark.Ours)]
    public int BurstPercent { get; init; } = 50;

    [Choice("Common mark, percent",
        "A mark (late, kept back, in bursts, silent, stopped) that more than so many of a hundred of those compared carry is said once of "
            + "the region and marks only those far beyond the others: what all have tells nobody apart.",
        "The number is ours; far beyond is above the upper outer limit of a box plot (Tukey 1977, from memory).", SourceMark.Ours)]
    public int CommonMarkPercent { get; init; } = 50;

    [Choice("Silence, days", "A site or a way of sending that is quiet for fewer days is not called silent, whatever its rhythm.",
        "The number is ours.", SourceMark.Ours)]
    public int SilenceDays { get; init; } = 7;

    [Choice("Silence, own gaps",
        "Silent is what is quiet for longer than so many times the gap that only one in twenty of its own gaps exceeds.",
        "The number is ours.", SourceMark.Ours)]
    public int SilenceGaps { get; init; } = 2;

    [Choice("Silence by chance, one in",
        "Births or screens of a site have stopped when so long without any would come by chance once in so many times, by its own number "
            + "of infants a day.",
        "The number is ours; the chance is that of no event of a Poisson process.", SourceMark.Ours)]
    public int SilenceOdds { get; init; } = 1_000;
}
