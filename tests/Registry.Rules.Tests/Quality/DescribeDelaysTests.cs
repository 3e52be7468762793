using Registry.Rules.Quality;
using Xunit;

namespace Registry.Rules.Tests.Quality;

/// <summary>The limits are our own; the cases say what they mean.</summary>
public sealed class DescribeDelaysTests
{
    private static readonly DateOnly Monday = new(2026, 11, 2);

    private static ReceivedTests Sent(int day, int receivedDay, int tests = 1) =>
        new(Monday.AddDays(day), Monday.AddDays(receivedDay), tests, receivedDay - day > 7 ? tests : 0);

    private static DateOnly[] Daily(int days) => [.. Enumerable.Range(0, days).Select(Monday.AddDays)];

    [Fact]
    public void A_site_that_sends_every_evening_is_neither_late_nor_bursting()
    {
        var figures = DescribeDelays.Of([.. Enumerable.Range(0, 30).Select(d => Sent(d, d, 2))], Daily(30), Policy.Default);
        Assert.Equal((60, 0, 0, 0L, 0L, 0), (figures.Tests, figures.MedianDays, figures.NinthDecileDays, figures.Late.Numerator,
            figures.Skipped.Numerator, figures.Bursts.Count));
        Assert.False(figures.SkipsSendings || figures.SendsInBursts);
    }

    [Fact]
    public void A_site_that_sends_on_Mondays_by_agreement_skips_nothing()
    {
        // Ten weeks: every test arrives on the next Monday, up to seven days later.
        ReceivedTests[] tests = [.. Enumerable.Range(0, 70).Select(d => Sent(d, (d / 7 * 7) + 7))];
        var figures = DescribeDelays.Of(tests, [.. tests.Select(t => t.ReceivedDay)], Policy.Default);
        Assert.Equal((4, 7, 0L, 0), (figures.MedianDays, figures.NinthDecileDays, figures.Skipped.Numerator, figures.Bursts.Count));
        Assert.False(figures.SkipsSendings || figures.SendsInBursts);
    }

    [Fact]
    public void A_memory_emptied_every_ten_days_is_both_where_the_site_sends_daily()
    {
        ReceivedTests[] tests = [.. Enumerable.Range(0, 40).Select(d => Sent(d, ((d / 10) + 1) * 10))];
        var figures = DescribeDelays.Of(tests, Daily(41), Policy.Default);
        Assert.Equal((5, 9), (figures.MedianDays, figures.NinthDecileDays));
        Assert.Equal(12L, figures.Late.Numerator); // days 0 to 2 of each ten: 10, 9 and 8 days
        // Skipped: at least two sendings lie strictly between, so received three days later or more: days 0 to 7 of each ten.
        Assert.Equal((32L, 40L), (figures.Skipped.Numerator, figures.Skipped.Denominator));
        Assert.Equal(new ReceiptBurst(Monday.AddDays(10), 8, 8, Monday), figures.Bursts[0]);
        Assert.Equal(4, figures.Bursts.Count);
        Assert.True(figures.SkipsSendings && figures.SendsInBursts);

        // The same instrument at a site that sends only then: it could not have been sent before.
        var alone = DescribeDelays.Of(tests, [.. tests.Select(t => t.ReceivedDay)], Policy.Default);
        Assert.False(alone.SkipsSendings || alone.SendsInBursts);
        Assert.Equal(12L, alone.Late.Numerator);
    }

    [Theory]
    [InlineData(0, 0, false), InlineData(0, 2, false), InlineData(0, 3, true)]
    public void Two_sendings_without_the_test_skip_it(int day, int received, bool skipped) =>
        Assert.Equal(skipped, DescribeDelays.IsSkipped(Sent(day, received), Daily(10), Policy.Default));

    [Theory]
    [InlineData(2, false), InlineData(3, true)]
    public void More_than_a_tenth_is_more_than_a_tenth(int skipped, bool marked)
    {
        // Of 20 tests; that they are weeks late makes their share no larger.
        var figures = DescribeDelays.Of(
            [.. Enumerable.Range(0, 20).Select(d => Sent(d, d < skipped ? d + 60 : d))], Daily(90), Policy.Default);
        Assert.Equal(marked, figures.SkipsSendings);
    }

    [Fact]
    public void A_site_is_late_by_its_own_agreement_and_a_policy_says_what_is_kept_back()
    {
        // Nine in ten within nine days: late for a site that agreed to a week, in time for one that agreed to a fortnight.
        ReceivedTests[] tests = [.. Enumerable.Range(0, 40).Select(d => Sent(d, ((d / 10) + 1) * 10))];
        var figures = DescribeDelays.Of(tests, Daily(41), Policy.Default);
        Assert.True(figures.IsLaterThan(7));
        Assert.False(figures.IsLaterThan(14));
        Assert.False(DescribeDelays.Of([.. tests.Take(DescribeDelays.FewestTests - 1)], Daily(41), Policy.Default).IsLaterThan(7));
        // Five sendings that pass by, instead of two: received six days later or more, days 0 to 4 of each ten.
        Assert.Equal(20L, DescribeDelays.Of(tests, Daily(41), Policy.Default with { SkippedSendings = 5 }).Skipped.Numerator);
        Assert.Empty(DescribeDelays.Of(tests, Daily(41), Policy.Default with { BurstTestDays = 9 }).Bursts);
    }

    [Fact]
    public void From_few_tests_nothing_is_concluded()
    {
        var late = Enumerable.Range(0, DescribeDelays.FewestTests - 1).Select(d => Sent(d, 60)).ToList();
        var few = DescribeDelays.Of(late, Daily(90), Policy.Default);
        Assert.False(few.SkipsSendings || few.SendsInBursts);
        Assert.True(DescribeDelays.Of([.. late, Sent(30, 60)], Daily(90), Policy.Default).SkipsSendings);
    }

    [Fact]
    public void A_clock_that_runs_ahead_gives_no_negative_delay_and_nothing_gives_nothing()
    {
        Assert.Equal(0, DescribeDelays.Of([Sent(2, 1)], [], Policy.Default).MedianDays);
        var none = DescribeDelays.Of([], [], Policy.Default);
        Assert.Null(none.MedianDays);
        Assert.Null(none.Late.Rate);
    }
}
