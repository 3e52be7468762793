using Registry.Rules.Statistics;

namespace Registry.Rules.Quality;

/// <summary>Tests made on one day of which word came on one day.</summary>
/// <param name="TestDay">The day of the tests.</param>
/// <param name="ReceivedDay">The day word of them first came.</param>
/// <param name="Tests">How many.</param>
/// <param name="Late">Of them those that came later than agreed.</param>
public readonly record struct ReceivedTests(DateOnly TestDay, DateOnly ReceivedDay, int Tests, int Late)
{
    /// <summary>Never negative: clocks differ.</summary>
    public int Days => Math.Max(0, ReceivedDay.DayNumber - TestDay.DayNumber);
}

/// <summary>How long the tests of a site or an instrument stay where they were made.</summary>
/// <param name="Tests">Tests looked at.</param>
/// <param name="MedianDays">Days from test to receipt; null without tests.</param>
/// <param name="NinthDecileDays">The 90th percentile; null without tests.</param>
/// <param name="Late">Tests that came later than agreed.</param>
/// <param name="Skipped">Tests that the site's own sendings passed by, and that came with a later one.</param>
/// <param name="Bursts">Days of receipt that brought skipped tests of many days, oldest first.</param>
/// <param name="SkipsSendings">Worth a look: enough tests to tell, and more of them than the policy allows could have been sent and were
/// not.</param>
/// <param name="SendsInBursts">Worth a look: enough tests to tell, and more of them than the policy allows came so.</param>
public sealed record DelayFigures(
    int Tests, int? MedianDays, int? NinthDecileDays, Proportion Late, Proportion Skipped, IReadOnlyList<ReceiptBurst> Bursts,
    bool SkipsSendings, bool SendsInBursts)
{

    /// <summary>Worth a look: enough tests to tell, and fewer than nine in ten were here within the days the site agreed to.</summary>
    public bool IsLaterThan(int days) => Tests >= DescribeDelays.FewestTests && NinthDecileDays > days;
}

/// <summary>A day on which results of many days arrived that could have come before.</summary>
/// <param name="ReceivedOn">The day of receipt.</param>
/// <param name="Tests">Skipped tests received.</param>
/// <param name="TestDays">Different days those tests were made on.</param>
/// <param name="Oldest">The first of these days.</param>
public readonly record struct ReceiptBurst(DateOnly ReceivedOn, int Tests, int TestDays, DateOnly Oldest);

/// <summary>
/// Describes how long results stay at the site before they are sent, measured by the site's own rhythm: a site that sends on Fridays is not
/// late on Thursday. A test was skipped when the site sent results on some days after the test and before it came itself: the results of
/// an instrument whose memory is emptied now and then. A burst is a day that brought skipped tests of many days.
/// </summary>
/// <remarks>
/// Common practice, no source: that results kept in a memory come late and together. The limits are the policy's. The burstiness of the
/// literature (Goh and Barabási, EPL 2008;81:48002) measures the gaps between sendings alone: memory emptied every Friday would be
/// perfectly regular there, and is what we look for here. Tests of the last days whose results are still to come are not seen: the figures
/// of a period that ends today are too good.
/// </remarks>
public static class DescribeDelays
{
    /// <summary>Fewer tests than this are described, and nothing is concluded from them. Own choice.</summary>
    public const int FewestTests = 20;

    /// <param name="tests">The tests of one site or one instrument, in any order.</param>
    /// <param name="sendings">The days on which the site sent results, of any instrument.</param>
    /// <param name="policy">What is kept back, and what a burst.</param>
    public static DelayFigures Of(IReadOnlyCollection<ReceivedTests> tests, IReadOnlyCollection<DateOnly> sendings, Policy policy)
    {
        DateOnly[] days = [.. sendings.Distinct().Order()];
        var skipped = tests.Where(t => IsSkipped(t, days, policy)).ToList();
        var total = tests.Sum(t => t.Tests);
        var (passedBy, bursts) = (skipped.Sum(t => t.Tests), Bursts(skipped, policy));
        return new(
            total, Percentile(tests, total, 0.5), Percentile(tests, total, 0.9), new(tests.Sum(t => t.Late), total), new(passedBy, total),
            bursts, SkipsSendings(new(passedBy, total), policy), SendsInBursts(new(bursts.Sum(b => b.Tests), total), policy));
    }

    /// <summary>Enough tests to tell, and more of them than the policy allows were passed by.</summary>
    public static bool SkipsSendings(Proportion skipped, Policy policy) => MoreThan(policy.KeptBackPercent, skipped);

    /// <summary>Enough tests to tell, and more of them than the policy allows came in bursts.</summary>
    public static bool SendsInBursts(Proportion inBursts, Policy policy) => MoreThan(policy.BurstPercent, inBursts);

    private static bool MoreThan(int percent, Proportion some) =>
        some.Denominator >= FewestTests && 100 * some.Numerator > percent * some.Denominator;

    /// <param name="test">The test.</param>
    /// <param name="sendings">In order, each once.</param>
    /// <param name="policy">How many sendings pass it by.</param>
    public static bool IsSkipped(ReceivedTests test, DateOnly[] sendings, Policy policy)
    {
        var next = Array.BinarySearch(sendings, test.TestDay.AddDays(1));
        var first = next < 0 ? ~next : next;
        var last = first + policy.SkippedSendings - 1;
        return last < sendings.Length && sendings[last] < test.ReceivedDay;
    }

    /// <summary>Days of receipt that are bursts, of skipped tests.</summary>
    public static IReadOnlyList<ReceiptBurst> Bursts(IEnumerable<ReceivedTests> skipped, Policy policy) =>
    [
        .. skipped.GroupBy(t => t.ReceivedDay)
            .Select(day => new ReceiptBurst(
                day.Key, day.Sum(t => t.Tests), day.Select(t => t.TestDay).Distinct().Count(), day.Min(t => t.TestDay)))
            .Where(day => day.TestDays >= policy.BurstTestDays).OrderBy(day => day.ReceivedOn),
    ];

    /// <summary>Days from test to receipt; null without tests.</summary>
    public static int? MedianDays(IReadOnlyCollection<(int Days, int Tests)> tests) => Percentile(tests, tests.Sum(t => t.Tests), 0.5);

    private static int? Percentile(IEnumerable<ReceivedTests> tests, int total, double share) =>
        Percentile(tests.Select(t => (t.Days, t.Tests)), total, share);

    /// <summary>The fewest days within which the share of the tests arrived.</summary>
    private static int? Percentile(IEnumerable<(int Days, int Tests)> tests, int total, double share)
    {
        var sofar = 0;
        foreach (var day in tests.GroupBy(t => t.Days).OrderBy(d => d.Key))
        {
            sofar += day.Sum(t => t.Tests);
            if (sofar > 0 && sofar >= share * total) return day.Key;
        }

        return null;
    }
}
