using CsCheck;
using MathNet.Numerics.Distributions;
using Registry.Rules.Statistics;
using Registry.Rules.Tests.Published;
using Xunit;

namespace Registry.Rules.Tests.Statistics;

public sealed class ControlLimitsTests
{
    [Fact]
    public void P_chart_of_the_circuits_data()
    {
        var chart = PChart.Of([.. PublishedTable.Read("circuits.csv").Select(r => new Proportion(r.Whole("fail"), 500))])!;
        Assert.Equal(.0194667, chart.Centre, 7);
        Assert.All(chart.Points, p =>
        {
            Assert.Equal(.0009308, p.Lower, 7);
            Assert.Equal(.0380025, p.Upper, 7);
            Assert.False(p.Signal);
        });
    }

    [Fact]
    public void P_chart_of_the_handbook_wafers()
    {
        var chart = PChart.Of(
            [.. PublishedTable.Read("wafers.csv").Select(r => new Proportion((long)Math.Round(r.Number("fraction") * 50), 50))])!;
        Assert.Equal(.2313, chart.Centre, 4);
        Assert.Equal(.0524, chart.Points[0].Lower, 3);
        Assert.Equal(.4102, chart.Points[0].Upper, 4);
        Assert.Equal([15, 23], chart.Points.Index().Where(p => p.Item.Signal).Select(p => p.Index + 1));
    }

    [Fact]
    public void P_chart_limits_follow_each_subgroup_and_no_data_has_none()
    {
        Assert.Null(PChart.Of([new Proportion(0, 0)]));
        var chart = PChart.Of([new Proportion(1, 10), new Proportion(10, 1000), new Proportion(0, 0)])!;
        Assert.True(chart.Points[0].Upper > chart.Points[1].Upper);
        Assert.Equal(0, chart.Points[0].Lower);
        Assert.False(chart.Points[2].Signal);
    }

    [Fact]
    public void Funnel_limits()
    {
        foreach (var row in PublishedTable.Read("funnel.csv"))
            Assert.Equal(row.Number("limit"), FunnelLimits.At(.04, (int)row.Whole("n"), row.Number("p")), 5);
    }

    [Fact]
    public void The_upper_tail_is_the_sum_of_binomial_terms()
    {
        const int n = 30;
        const double theta = .07;
        double sum = 0, term = Math.Pow(1 - theta, n);
        var terms = new double[n + 1];
        for (var k = 0; k <= n; k++)
        {
            terms[k] = term;
            term *= (double)(n - k) / (k + 1) * theta / (1 - theta);
        }

        for (var k = n; k >= 0; k--)
        {
            sum += terms[k];
            Assert.Equal(sum, FunnelLimits.UpperTail(new Proportion(k, n), theta), 10);
        }
    }

    [Theory]
    [InlineData(0, 10, .5)]
    [InlineData(.1, 0, .5)]
    [InlineData(.1, 10, 1)]
    public void Impossible_funnel_arguments_are_refused(double target, int n, double p) =>
        Assert.Throws<ArgumentOutOfRangeException>(() => FunnelLimits.At(target, n, p));

    [Fact]
    public void Sites_that_differ_by_chance_alone_are_not_over_dispersed()
    {
        // 40 sites exactly at, or one standard error from, the target.
        var even = Enumerable.Range(0, 40).Select(i => new Proportion(i % 2 == 0 ? 40 + 6 : 40 - 6, 1000)).ToList();
        var spread = Enumerable.Range(0, 40).Select(i => new Proportion(i % 2 == 0 ? 40 + 30 : 40 - 30, 1000)).ToList();
        Assert.InRange(OverDispersion.Of(even, .04).Phi, .9, 1.0);
        Assert.Equal(0, OverDispersion.Of(even, .04).TauSquared);
        var wide = OverDispersion.Of(spread, .04);
        Assert.Equal(900 / (1000 * .04 * .96), wide.Phi, 6);
        // Between-site variance: what is left of .03² after the sampling variance.
        Assert.Equal(.03 * .03 - .04 * .96 / 1000, wide.TauSquared, 4);
    }

    [Fact]
    public void False_discovery_example()
    {
        var p = PublishedTable.Read("false_discovery.csv").Select(r => r.Number("p")).ToArray();
        Assert.Equal([true, true, true, true, .. Enumerable.Repeat(false, 11)], BenjaminiHochberg.Reject(p, .05));
        Assert.Equal(.0095 * 15 / 4, BenjaminiHochberg.Adjust(p)[3], 10);
        Assert.Empty(BenjaminiHochberg.Adjust([]));
    }

    /// <summary>The definition read literally: add terms until the tail is reached, then interpolate.</summary>
    [Fact]
    public void Funnel_limits_by_direct_summation() =>
        Gen.Select(Gen.Double[.005, .6], Gen.Int[1, 400], Gen.OneOf(Gen.Const(.001), Gen.Const(.025), Gen.Const(.975), Gen.Const(.999)))
            .Sample((target, n, p) =>
        {
            double term = Math.Pow(1 - target, n), below = 0, upTo = term;
            var r = 0;
            while (upTo < p)
            {
                term *= (double)(n - r) / (r + 1) * target / (1 - target);
                r++;
                (below, upTo) = (upTo, upTo + term);
            }

            var limit = Math.Max(0, (r - (upTo - p) / (upTo - below)) / n);
            Assert.Equal(limit, FunnelLimits.At(target, n, p), 1e-7);
        }, iter: 2000);

    [Fact]
    public void Over_dispersed_standard_errors_by_hand()
    {
        // θ(1 − θ)/n = .09/100; φ = 4 doubles the error, τ² = .0007 adds to the square.
        var wide = new OverDispersion(4, .0007);
        Assert.Equal(.06, wide.Multiplicative(.1, 100), 12);
        Assert.Equal(.04, wide.Additive(.1, 100), 12);

        // Less spread than chance does not narrow the limits.
        Assert.Equal(.03, new OverDispersion(.5, 0).Multiplicative(.1, 100), 12);
        Assert.Throws<ArgumentOutOfRangeException>(() => wide.Additive(.1, 0));
        Assert.Throws<ArgumentOutOfRangeException>(() => wide.Multiplicative(1, 10));
    }

    /// <summary>One site far out of ten does not decide the spread: its z is pulled in to its neighbour's.</summary>
    [Fact]
    public void A_single_outlier_is_pulled_in()
    {
        var sites = Enumerable.Range(0, 10).Select(i => new Proportion(i == 9 ? 90 : 10 + i % 2, 100)).ToList();
        Assert.InRange(OverDispersion.Of(sites, .1).Phi, 0, 1);
        Assert.InRange(OverDispersion.Of(sites, .1, winsorise: 0).Phi, 70, 72);
    }

    /// <summary>The procedure as the paper states it: reject the k smallest for the largest k with p(k) ≤ k·q/m.</summary>
    [Fact]
    public void False_discovery_by_its_definition() =>
        Gen.Select(Gen.Double[0, 1].Array[0, 30], Gen.Double[.01, .5]).Sample((raw, q) =>
        {
            var p = raw.Select(v => v * v).ToArray();
            var sorted = p.Order().ToArray();
            // Where both sides are equal but for rounding, either answer is right.
            if (sorted.Index().Any(s => s.Item > 0 && Math.Abs((s.Item * p.Length / ((s.Index + 1) * q)) - 1) < 1e-12)) return;
            var k = Enumerable.Range(1, p.Length).LastOrDefault(i => sorted[i - 1] <= i * q / p.Length);
            Assert.Equal(p.Select(v => k > 0 && v <= sorted[k - 1]), BenjaminiHochberg.Reject(p, q));
            Assert.All(BenjaminiHochberg.Adjust(p).Zip(p), a => Assert.InRange(a.First, a.Second, 1));
        }, iter: 3000);

    [Theory]
    [InlineData(double.NaN, .05)]
    [InlineData(1.5, .05)]
    [InlineData(.5, -1)]
    [InlineData(.5, double.NaN)]
    public void Impossible_p_values_are_refused(double p, double q) =>
        Assert.Throws<ArgumentOutOfRangeException>(() => BenjaminiHochberg.Reject([p], q));

    /// <summary>Tail probabilities by hand: 2 of 2 at 0.1 is 0.01; 5 of 5 is 0.00001; 0 of 100 at 0.1 is 0.9^100 = 0.0000266.</summary>
    [Theory]
    [InlineData(2, 2, false)]
    [InlineData(5, 5, true)]
    [InlineData(0, 20, false)]
    [InlineData(0, 100, true)]
    public void Exact_limits_signal_only_what_is_improbable(int x, int n, bool signal)
    {
        // A large subgroup keeps the centre at very nearly 0.1 whatever the one in question.
        var chart = PChart.Exact([new(100_000, 1_000_000), new(x, n)])!;
        Assert.Equal(signal, chart.Points[1].Signal);
        Assert.Equal(.1, chart.Centre, 3);
    }

    [Fact]
    public void Exact_limits_of_large_subgroups_are_those_of_the_handbook()
    {
        var subgroups = Enumerable.Range(0, 20).Select(_ => new Proportion(4_000, 20_000)).ToList();
        foreach (var (exact, normal) in PChart.Exact(subgroups)!.Points.Zip(PChart.Of(subgroups)!.Points))
        {
            Assert.Equal(normal.Lower, exact.Lower, 3);
            Assert.Equal(normal.Upper, exact.Upper, 3);
        }
    }

    [Fact]
    public void Exact_limits_of_no_data_or_no_event_do_not_signal()
    {
        Assert.Null(PChart.Exact([new(0, 0)]));
        Assert.All(PChart.Exact([new(0, 5), new(0, 0)])!.Points, p => Assert.False(p.Signal));
    }

    /// <summary>By its definition: the smallest count with F(r) ≥ p, looked for from 0 up.</summary>
    [Theory]
    [InlineData(.08)]
    [InlineData(.003)]
    [InlineData(.6)]
    public void The_limit_is_the_smallest_count_of_its_definition(double target)
    {
        foreach (var n in new[] { 1, 2, 7, 60, 850 })
            foreach (var p in new[] { .001, .025, .5, .975, .999 })
            {
                var r = 0;
                while (Binomial.CDF(target, n, r) < p) r++;
                var (below, upTo) = (r == 0 ? 0 : Binomial.CDF(target, n, r - 1), Binomial.CDF(target, n, r));
                Assert.Equal(Math.Max(0, (r - (upTo - p) / (upTo - below)) / n), FunnelLimits.At(target, n, p), 12);
            }
    }
}
