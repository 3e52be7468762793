using Registry.Rules.Quality;
using Xunit;

namespace Registry.Rules.Tests.Quality;

/// <summary>The limits are our own; the cases say what they mean.</summary>
public sealed class DescribeDelaysTests
{
    private static readonly DateTime Monday = new(2026, 11, 2, 9, 0, 0);

    private static TestReceipt Test(int day, double hoursLater, int minute = 0)
    {
        var at = Monday.AddDays(day).AddMinutes(minute);
        return new(at, at.AddHours(hoursLater));
    }

    private static TestReceipt Sent(int day, int receivedDay) => new(Monday.AddDays(day), Monday.AddDays(receivedDay).AddHours(8));

    [Fact]
    public void A_site_that_sends_every_evening_is_neither_late_nor_bursting()
    {
        var figures = DescribeDelays.Of([.. Enumerable.Range(0, 30).SelectMany(d => new[] { Sent(d, d), Sent(d, d) })]);
        Assert.Equal((60, 8.0, 8.0, 0L, 0),
            (figures.Tests, figures.MedianHours, figures.NinthDecileHours, figures.Late.Numerator, figures.Bursts.Count));
        Assert.False(figures.SendsLate || figures.SendsInBursts);
    }

    [Fact]
    public void A_Monday_that_brings_the_weekend_is_no_burst()
    {
        // Friday, Saturday and Sunday arrive on Monday.
        var figures = DescribeDelays.Of([.. Enumerable.Range(0, 28).Select(d => Sent(d, d % 7 >= 4 ? d - (d % 7) + 7 : d))]);
        Assert.Empty(figures.Bursts);
    }

    [Fact]
    public void A_memory_emptied_every_ten_days_is_both()
    {
        var figures = DescribeDelays.Of([.. Enumerable.Range(0, 40).Select(d => Sent(d, ((d / 10) + 1) * 10))]);
        // Days 0 to 9 arrive on day 10: 10 days and 8 hours later at most, 1 day and 8 hours at least.
        Assert.Equal((5.5 * 24) + 8, figures.MedianHours!.Value, 9);
        Assert.Equal(4, figures.Bursts.Count);
        Assert.Equal(new ReceiptBurst(DateOnly.FromDateTime(Monday).AddDays(10), 10, 10, DateOnly.FromDateTime(Monday)), figures.Bursts[0]);
        Assert.Equal((16L, 40L), (figures.Late.Numerator, figures.Late.Denominator)); // days 0 to 3 of each ten: 7 days and 8 hours or more
        Assert.True(figures.SendsLate && figures.SendsInBursts);
    }

    [Theory]
    [InlineData(7 * 24, false)]
    [InlineData((7 * 24) + 0.02, true)]
    public void Late_is_more_than_seven_days(double hours, bool late) => Assert.Equal(late, DescribeDelays.IsLate(Test(0, hours)));

    [Theory]
    [InlineData(2, false)]
    [InlineData(3, true)]
    public void More_than_a_tenth_is_more_than_a_tenth(int late, bool marked)
    {
        // Of 20 tests; that the late ones are weeks late makes their share no larger.
        var figures = DescribeDelays.Of([.. Enumerable.Range(0, 20).Select(d => Sent(d, d < late ? d + 60 : d))]);
        Assert.Equal(marked, figures.SendsLate);
    }

    [Fact]
    public void From_few_tests_nothing_is_concluded()
    {
        var late = Enumerable.Range(0, DescribeDelays.FewestTests - 1).Select(d => Sent(d, 60)).ToList();
        Assert.False(DescribeDelays.Of(late).SendsLate || DescribeDelays.Of(late).SendsInBursts);
        Assert.True(DescribeDelays.Of([.. late, Sent(30, 60)]).SendsLate);
    }

    [Fact]
    public void A_clock_that_runs_ahead_gives_no_negative_delay_and_nothing_gives_nothing()
    {
        Assert.Equal(0, DescribeDelays.Of([Test(0, -2)]).MedianHours);
        var none = DescribeDelays.Of([]);
        Assert.Null(none.MedianHours);
        Assert.Null(none.Late.Rate);
    }
}
