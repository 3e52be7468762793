namespace Registry.Rules;

// How sites, instruments, probes and screeners are compared.
public sealed partial record Policy
{
    [Choice("False flags a year",
        "How many standing problems may be raised in the whole region in a year when nothing is wrong anywhere, all sites, instruments, "
            + "probes and screeners together and every night looked at. Fewer means that real problems are found later.",
        "The number is ours.", SourceMark.Ours)]
    public int FalseFlagsPerYear { get; init; } = 2;

    [Choice("Calibration, months",
        "Months from one calibration of an instrument or a probe to the next; whoever manages the site is reminded before. The "
            + "manufacturer's instructions and local rules come first.",
        "", SourceMark.CommonPractice)]
    public int CalibrationMonths { get; init; } = 12;
}
