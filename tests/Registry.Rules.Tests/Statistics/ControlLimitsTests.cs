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
        var chart = PChart.Of([.. PublishedTable.Read("wafers.csv").Select(r => new Proportion((long)Math.Round(r.Number("fraction") * 50), 50))])!;
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
}
