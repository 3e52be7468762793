using CsCheck;
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

    /// <summary>Terms summed one by one, from factorials: nothing of the incomplete beta function the interval is made with.</summary>
    [Fact]
    public void The_exact_interval_by_direct_summation()
    {
        foreach (var row in PublishedTable.Read("intervals.csv"))
        {
            var (x, n) = (row.Whole("x"), row.Whole("n"));
            var (lower, upper) = new Proportion(x, n).ClopperPearson()!.Value;
            if (x > 0) Assert.Equal(.025, SumOfTerms(n, lower, x, n), 1e-9);
            Assert.Equal(.025, SumOfTerms(n, upper, 0, x), 1e-9);
        }
    }

    /// <summary>At its ends the score test of the end is exactly on the verge: |p − π| = z·√(π(1 − π)/n), less 1/(2n) with
    /// continuity.</summary>
    [Fact]
    public void Score_intervals_end_where_the_score_test_rejects() =>
        (from n in Gen.Long[1, 100_000]
         from x in Gen.Long[0, n]
         from level in Gen.OneOf(Gen.Const(.8), Gen.Const(.95), Gen.Const(.998))
         select (x, n, level))
            .Sample(t =>
            {
                var (x, n, level) = t;
                var p = (double)x / n;
                var z = Normal.InvCDF(0, 1, .5 + level / 2);
                void OnTheVerge(double end, double correction) =>
                    Assert.Equal(0, (Math.Abs(p - end) - correction) / Math.Sqrt(end * (1 - end) / n) - z, 1e-4);
                var (score, continuity) = (new Proportion(x, n).Wilson(level)!.Value, new Proportion(x, n).WilsonContinuity(level)!.Value);
                if (x > 0) OnTheVerge(score.Lower, 0);
                if (x < n) OnTheVerge(score.Upper, 0);
                if (x > 0) OnTheVerge(continuity.Lower, .5 / n);
                if (x < n) OnTheVerge(continuity.Upper, .5 / n);
                Assert.InRange(p, score.Lower, score.Upper);
                Assert.True(continuity.Lower <= score.Lower && score.Upper <= continuity.Upper);
            }, iter: 2000);

    /// <summary>A state's births in a decade: still narrow, still around the rate, at once.</summary>
    [Fact]
    public void Large_counts()
    {
        var p = new Proportion(4_000_000, 5_000_000);
        foreach (var interval in new[] { p.Wilson(), p.WilsonContinuity(), p.ClopperPearson() })
        {
            Assert.Equal(.8 - 1.959964 * Math.Sqrt(.16 / 5e6), interval!.Value.Lower, 5e-7);
            Assert.Equal(.8 + 1.959964 * Math.Sqrt(.16 / 5e6), interval.Value.Upper, 5e-7);
        }
    }

    /// <summary>The printed decimal against whole-number arithmetic: the nearest tenth, and of two equally near the higher.</summary>
    [Fact]
    public void Percentages_are_the_nearest_tenth() =>
        (from n in Gen.Long[1, 2_000] from x in Gen.Long[0, n] select new Proportion(x, n)).Sample(p =>
        {
            var tenths = (2 * 1000 * p.Numerator + p.Denominator) / (2 * p.Denominator);
            Assert.Equal(tenths / 10m, p.ToPercent());
        }, iter: 20_000);

    private static double SumOfTerms(long n, double p, long from, long to)
    {
        double sum = 0;
        for (var k = from; k <= to; k++)
        {
            var log = k * Math.Log(p) + (n - k) * Math.Log(1 - p);
            for (var i = 1; i <= k; i++) log += Math.Log(n - k + i) - Math.Log(i);
            sum += Math.Exp(log);
        }

        return sum;
    }
}
