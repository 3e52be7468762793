using MathNet.Numerics.Distributions;
using Registry.Rules.Statistics;
using Registry.Rules.Tests.Published;
using Xunit;

namespace Registry.Rules.Tests.Statistics;

public sealed class ProportionTests
{
    [Fact]
    public void Intervals_of_Newcombe_1998()
    {
        foreach (var row in PublishedTable.Read("intervals.csv"))
        {
            var p = new Proportion(row.Whole("x"), row.Whole("n"));
            Close(row, "wilson", p.Wilson());
            Close(row, "continuity", p.WilsonContinuity());
            Close(row, "exact", p.ClopperPearson());
        }

        static void Close(IReadOnlyDictionary<string, string> row, string name, Interval? interval)
        {
            Assert.Equal(row.Number(name + "_lower"), interval!.Value.Lower, 4);
            Assert.Equal(row.Number(name + "_upper"), interval.Value.Upper, 4);
        }
    }

    [Fact]
    public void The_exact_interval_has_exactly_half_of_the_error_in_each_tail()
    {
        for (var n = 1; n <= 40; n++)
        {
            for (var x = 0; x <= n; x++)
            {
                var (lower, upper) = new Proportion(x, n).ClopperPearson()!.Value;
                if (x > 0) Assert.Equal(.025, 1 - Binomial.CDF(lower, n, x - 1), 9);
                if (x < n) Assert.Equal(.025, Binomial.CDF(upper, n, x), 9);
            }
        }
    }

    [Fact]
    public void No_data_is_not_zero()
    {
        var none = new Proportion(0, 0);
        Assert.Null(none.Rate);
        Assert.Null(none.ToPercent());
        Assert.Null(none.Wilson());
        Assert.Null(none.WilsonContinuity());
        Assert.Null(none.ClopperPearson());
    }

    [Fact]
    public void Ends_are_reached_exactly()
    {
        Assert.Equal(0, new Proportion(0, 7).Wilson()!.Value.Lower);
        Assert.Equal(1, new Proportion(7, 7).Wilson()!.Value.Upper);
        Assert.Equal(1, new Proportion(1, 1).ClopperPearson()!.Value.Upper);
        Assert.InRange(new Proportion(1, 1).Wilson()!.Value.Lower, 0.2, 0.21);
    }

    [Theory]
    [InlineData(-1, 5)]
    [InlineData(6, 5)]
    public void Impossible_counts_are_refused(long x, long n) => Assert.Throws<ArgumentOutOfRangeException>(() => new Proportion(x, n));

    [Fact]
    public void Confidence_outside_0_and_1_is_refused() => Assert.Throws<ArgumentOutOfRangeException>(() => new Proportion(1, 2).Wilson(1));

    [Fact]
    public void A_tie_rounds_away_from_zero() => Assert.Equal(68.8m, new Proportion(33, 48).ToPercent());
}
