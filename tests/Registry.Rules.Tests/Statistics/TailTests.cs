using CsCheck;
using MathNet.Numerics.Distributions;
using Registry.Rules.Statistics;
using Registry.Rules.Tests.Published;
using Xunit;

namespace Registry.Rules.Tests.Statistics;

public sealed class TailTests
{
    /// <summary>The count is the quantile itself: above the interpolated limit (Spiegelhalter, Stat Med 2005;24:1185), and not
    /// rare enough.</summary>
    [Fact]
    public void A_limit_between_whole_counts_is_for_drawing()
    {
        List<RiskedTrials> trials = [new(24, .0844)];
        Assert.Equal(.00290780139, PoissonBinomial.Upper(trials, 7), 1e-10);
        Assert.Equal(.001728643185, PoissonBinomial.UpperMidP(trials, 7), 1e-10);
        Assert.True(7 / 24.0 > FunnelLimits.At(.0844, 24, .999));
        Assert.True(PoissonBinomial.UpperMidP(trials, 7) > .001);
    }

    [Fact]
    public void With_one_risk_it_is_binomial() =>
        Gen.Select(Gen.Int[1, 200], Gen.Double[.005, .9], Gen.Int[0, 60]).Sample((n, p, x) =>
        {
            List<RiskedTrials> trials = [new(n / 2, p), new(n - n / 2, p)];
            var upper = x == 0 ? 1 : x > n ? 0 : 1 - Binomial.CDF(p, n, x - 1);
            Assert.Equal(upper, PoissonBinomial.Upper(trials, x), 1e-9);
            Assert.Equal(1, PoissonBinomial.LowerMidP(trials, x) + PoissonBinomial.UpperMidP(trials, x), 1e-12);
        });

    /// <summary>Large units are approximated: against the exact binomial at the sizes where that begins.</summary>
    [Theory]
    [InlineData(20000, .05, 1100)]
    [InlineData(20000, .05, 900)]
    [InlineData(60000, .08, 5050)]
    [InlineData(60000, .08, 4800)]
    [InlineData(400000, .02, 8300)]
    public void Large_units_agree_to_three_digits(int n, double p, int x)
    {
        var exact = 1 - Binomial.CDF(p, n, x - 1);
        Assert.Equal(exact, PoissonBinomial.Upper([new(n / 3, p), new(n - n / 3, p)], x), exact * 2e-3);
    }

    /// <summary>As near the mean as a count can lie: the formula is a difference of two poles there.</summary>
    [Theory]
    [InlineData(0)]
    [InlineData(1e-9)]
    [InlineData(.002)]
    [InlineData(.003)]
    [InlineData(.005)]
    [InlineData(-.005)]
    [InlineData(.5)]
    [InlineData(.7)]
    [InlineData(-.7)]
    public void Large_units_agree_at_the_mean(double apart)
    {
        const int n = 60000, x = 1100;
        var p = (x - .5 - apart) / n;
        var exact = 1 - Binomial.CDF(p, n, x - 1);
        Assert.Equal(exact, PoissonBinomial.Upper([new(n / 3, p), new(n - n / 3, p)], x), 2e-5);
    }

    /// <summary>φ of herd totals, with and without winsorising; Lesnoff et al., Prev Vet Med 2004;64:77; digits by R 4.2.2.</summary>
    [Theory]
    [InlineData(0, 5.232155943, .008617807808)]
    [InlineData(.1, 4.761350385, .007673988490)]
    public void Herds_differ_more_than_chance(double winsorise, double phi, double tauSquared)
    {
        var herds = PublishedTable.Read("herds.csv").GroupBy(r => r.Whole("herd"))
            .Select(g => new Proportion(g.Sum(r => r.Whole("incidence")), g.Sum(r => r.Whole("size")))).ToList();
        const double target = 99.0 / 842;
        var proportions = OverDispersion.Of(herds, target, winsorise);
        Assert.Equal(phi, proportions.Phi, 1e-8);
        Assert.Equal(tauSquared, proportions.TauSquared, 1e-10);

        // On the logit scale φ is the same, and τ² that of the proportions over (θ(1 − θ))².
        var odds = OddsSpread.Of(
            herds.Select(h => (h.Numerator - target * h.Denominator, h.Denominator * target * (1 - target))), winsorise);
        Assert.Equal(phi, odds.Phi, 1e-8);
        Assert.Equal(tauSquared / Math.Pow(target * (1 - target), 2), odds.TauSquared, 1e-7);
        Assert.Equal(herds[6].Numerator - target * herds[6].Denominator,
            odds.Multiplicative(herds[6].Numerator - target * herds[6].Denominator, 4) * Math.Sqrt(phi * 4), 1e-9);
    }

    /// <summary>Bernoulli CUSUM in whole scores, +(m − 1) or −1, signal at H: exact from the linear equations; the chart is that of
    /// Reynolds and Stoumbos, J Qual Technol 1999;31:87.</summary>
    [Theory]
    [InlineData(10, 40, .05, 5273.61856357)]
    [InlineData(10, 40, .10, 207.491948732)]
    [InlineData(20, 80, .02, 28459.9854084)]
    [InlineData(20, 80, .07, 153.696023116)]
    [InlineData(14, 70, .10, 142.653963332)]
    [InlineData(14, 70, .20, 39.1837728858)]
    public void Run_lengths_of_whole_scores(int m, int threshold, double p, double expected) =>
        Assert.Equal(expected, CusumRunLength.Mean([new(m - 1, p), new(-1, 1 - p)], threshold, threshold), expected * 1e-6);

    /// <summary>Log-likelihood CUSUM (Steiner et al., Biostatistics 2000;1:441) of a constant risk, odds doubled or not.</summary>
    [Theory]
    [InlineData(.05, 2, 441.13, 79.31)]
    [InlineData(.05, 3, 1525.5, 133.62)]
    [InlineData(.05, 4.5, 7730.6, 218.65)]
    [InlineData(.10, 2, 239.94, 44.44)]
    [InlineData(.10, 3, 840.67, 75.25)]
    [InlineData(.10, 4.5, 4266.1, 123.02)]
    public void Run_lengths_of_a_doubling(double risk, double threshold, double without, double doubled)
    {
        Assert.Equal(without, Mean(risk), without * .01);
        Assert.Equal(doubled, Mean(2 * risk / (1 + risk)), doubled * .01);

        double Mean(double p) => CusumRunLength.Mean([
            new(RiskAdjustedCusum.Weight(new(risk, true), 2), p), new(RiskAdjustedCusum.Weight(new(risk, false), 2), 1 - p)], threshold);
    }
}
