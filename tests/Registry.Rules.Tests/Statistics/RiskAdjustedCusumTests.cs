using CsCheck;
using Registry.Rules.Statistics;
using Registry.Rules.Tests.Published;
using Xunit;

namespace Registry.Rules.Tests.Statistics;

public sealed class RiskAdjustedCusumTests
{
    [Fact]
    public void Weights_of_a_doubling()
    {
        foreach (var row in PublishedTable.Read("risk_adjusted_cusum.csv"))
        {
            Assert.Equal(row.Number("happened"), RiskAdjustedCusum.Weight(new(row.Number("risk"), true), 2), 5);
            Assert.Equal(row.Number("not"), RiskAdjustedCusum.Weight(new(row.Number("risk"), false), 2), 5);
        }
    }

    /// <summary>Through probabilities: the changed odds turned back into a probability, and the ratio of the two likelihoods.</summary>
    [Fact]
    public void A_weight_is_the_logarithm_of_a_likelihood_ratio() =>
        Gen.Select(Gen.Double[.001, .999], Gen.Double[.1, 10]).Where((_, ratio) => ratio != 1).Sample((risk, ratio) =>
        {
            var odds = ratio * risk / (1 - risk);
            var changed = odds / (1 + odds);
            Assert.Equal(Math.Log(changed / risk), RiskAdjustedCusum.Weight(new(risk, true), ratio), 1e-9);
            Assert.Equal(Math.Log((1 - changed) / (1 - risk)), RiskAdjustedCusum.Weight(new(risk, false), ratio), 1e-9);

            // Evidence falls on average while nothing changed, and rises once the odds did.
            double Mean(double p) =>
                p * RiskAdjustedCusum.Weight(new(risk, true), ratio) + (1 - p) * RiskAdjustedCusum.Weight(new(risk, false), ratio);
            if (Math.Abs(ratio - 1) < .01) return;
            Assert.True(Mean(risk) < 0);
            Assert.True(Mean(changed) > 0);
        });

    [Fact]
    public void The_sum_stays_above_zero_and_signals_at_the_threshold()
    {
        // Risk .1, doubling: a refer adds .59784, anything else takes .09531 off.
        var points = RiskAdjustedCusum.Accumulate(
            [.. new[] { false, true, false, true, true, false }.Select(h => new RiskedOutcome(.1, h))], 2, 1.5);
        double[] expected = [0, .59784, .50253, 1.10036, 1.69820, 1.60289];
        Assert.All(points.Zip(expected), p => Assert.Equal(p.Second, p.First.Value, 4));
        Assert.Equal([false, false, false, false, true, true], points.Select(p => p.Signal));
        Assert.Empty(RiskAdjustedCusum.Accumulate([], 2, 1));
    }

    [Fact]
    public void An_odds_ratio_below_one_looks_for_a_fall()
    {
        var points = RiskAdjustedCusum.Accumulate(Enumerable.Repeat(new RiskedOutcome(.3, false), 20), .5, 3);
        Assert.Equal(20 * -Math.Log(1 - .3 + .15), points[^1].Value, 1e-10);
        Assert.True(points[^1].Signal);
    }

    [Theory]
    [InlineData(0, 2, 1)]
    [InlineData(1, 2, 1)]
    [InlineData(.1, 1, 1)]
    [InlineData(.1, 0, 1)]
    [InlineData(.1, double.PositiveInfinity, 1)]
    [InlineData(.1, 2, 0)]
    [InlineData(double.NaN, 2, 1)]
    public void Impossible_arguments_are_refused(double risk, double oddsRatio, double threshold) =>
        Assert.Throws<ArgumentOutOfRangeException>(() => RiskAdjustedCusum.Accumulate([new(risk, true)], oddsRatio, threshold));
}
