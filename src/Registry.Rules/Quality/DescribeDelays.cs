using Registry.Rules.Statistics;

namespace Registry.Rules.Quality;

/// <summary>When a test was made and when word of it first arrived, both local.</summary>
public readonly record struct TestReceipt(DateTime TestedAt, DateTime ReceivedAt)
{
    /// <summary>Hours from test to receipt, never negative: clocks differ.</summary>
    public double Hours => Math.Max(0, (ReceivedAt - TestedAt).TotalHours);

    public DateOnly TestDay => DateOnly.FromDateTime(TestedAt);
    public DateOnly ReceivedDay => DateOnly.FromDateTime(ReceivedAt);
}

/// <summary>How late the tests of a site or an instrument arrive.</summary>
/// <param name="Tests">Tests looked at.</param>
/// <param name="MedianHours">From test to receipt; null without tests.</param>
/// <param name="NinthDecileHours">The 90th percentile; null without tests.</param>
/// <param name="Late">Tests received more than <see cref="DescribeDelays.LateAfterDays"/> days after the test.</param>
/// <param name="InBursts">Tests that arrived in a burst.</param>
/// <param name="Bursts">Days of receipt that were one, oldest first.</param>
public sealed record DelayFigures(
    int Tests, double? MedianHours, double? NinthDecileHours, Proportion Late, Proportion InBursts, IReadOnlyList<ReceiptBurst> Bursts)
{
    /// <summary>Worth a look: enough tests to tell, and more than a tenth of them late.</summary>
    public bool SendsLate => Tests >= DescribeDelays.FewestTests && Late.Numerator * 10 > Late.Denominator;

    /// <summary>Worth a look: enough tests to tell, and more than half of them came in bursts.</summary>
    public bool SendsInBursts => Tests >= DescribeDelays.FewestTests && InBursts.Numerator * 2 > InBursts.Denominator;
}

/// <summary>A day on which results of many days arrived.</summary>
/// <param name="ReceivedOn">The day of receipt.</param>
/// <param name="Tests">Tests received.</param>
/// <param name="TestDays">Different days those tests were made on.</param>
/// <param name="Oldest">The first of these days.</param>
public readonly record struct ReceiptBurst(DateOnly ReceivedOn, int Tests, int TestDays, DateOnly Oldest);

/// <summary>
/// Describes how long results stay at the site before they are sent, and whether they come in bursts: kept in an instrument's memory for
/// days and then sent at once. A burst is a day of receipt that brought tests of at least <see cref="BurstTestDays"/> different days, so
/// that a Monday that brings Friday, the weekend and itself is none.
/// </summary>
/// <remarks>
/// Common practice, no source: that results kept in a memory come late and together. The limits are our own choice: seven days are a
/// quarter of the month the screening has (JCIH 2019: screened by one month). The burstiness of the literature (Goh and Barabási, EPL
/// 2008;81:48002) measures the gaps between sendings alone: memory emptied every Friday would be perfectly regular there, and is what we
/// look for here. Tests of the last days whose results are still to come are not seen: the figures of a period that ends today are too
/// good.
/// </remarks>
public static class DescribeDelays
{
    /// <summary>Later than this many days is late. Own choice.</summary>
    public const int LateAfterDays = 7;

    /// <summary>Tests of so many different days, received on one day, are a burst. Own choice.</summary>
    public const int BurstTestDays = 5;

    /// <summary>Fewer tests than this are described, and nothing is concluded from them. Own choice.</summary>
    public const int FewestTests = 20;

    public static bool IsLate(TestReceipt test) => test.Hours > LateAfterDays * 24;

    /// <summary>Days of receipt that are bursts.</summary>
    public static IReadOnlyList<ReceiptBurst> Bursts(IEnumerable<TestReceipt> tests) =>
    [
        .. tests.GroupBy(t => t.ReceivedDay)
            .Select(day => new ReceiptBurst(day.Key, day.Count(), day.Select(t => t.TestDay).Distinct().Count(), day.Min(t => t.TestDay)))
            .Where(day => day.TestDays >= BurstTestDays).OrderBy(day => day.ReceivedOn),
    ];

    /// <param name="tests">The tests of one site or one instrument, in any order.</param>
    public static DelayFigures Of(IReadOnlyCollection<TestReceipt> tests)
    {
        double[] hours = [.. tests.Select(t => t.Hours).Order()];
        var bursts = Bursts(tests);
        return new(
            tests.Count, Quantile.Of(hours, 0.5), Quantile.Of(hours, 0.9), new(tests.Count(IsLate), tests.Count),
            new(bursts.Sum(b => b.Tests), tests.Count), bursts);
    }
}
