namespace Registry.Rules.Statistics;

/// <summary>Where a unit may stand among others; 1 is the highest rate.</summary>
/// <param name="Mean">Expected rank.</param>
/// <param name="Lowest">Rank with at most the stated tail below.</param>
/// <param name="Highest">Rank with at most the stated tail above.</param>
public readonly record struct RankRange(double Mean, int Lowest, int Highest);

/// <summary>
/// How much a ranking says (Goldstein and Spiegelhalter, J R Stat Soc A 1996;159:385): the distribution of each unit's rank when every
/// true rate varies as its posterior does. Given one unit's rate the others lie above it independently, so that its rank is a
/// Poisson-binomial count, averaged over its posterior: no random numbers.
/// </summary>
public static class RankUncertainty
{
    private const int Points = 32;

    /// <param name="posteriors">Beta parameters per unit. Time grows with the third power of their number: for tens of units.</param>
    /// <param name="confidence">Of the range.</param>
    public static RankRange[] Of(IReadOnlyList<(double A, double B)> posteriors, double confidence = .9)
    {
        var tail = (1 - confidence) / 2;
        var rates = posteriors.Select(p => new TabulatedBeta(p.A, p.B)).ToArray();
        return [.. rates.Select((own, i) =>
        {
            var ranks = new double[rates.Length];
            for (var point = 0; point < Points; point++)
            {
                var odds = own.QuantileOdds((point + .5) / Points);
                var above = PoissonBinomial.Below(
                    [.. rates.Where((_, j) => j != i).Select(o => new RiskedTrials(1, 1 - o.BelowOdds(odds)))], ranks.Length);
                for (var k = 0; k < ranks.Length; k++) ranks[k] += above[k] / Points;
            }

            return Range(ranks, tail);
        })];
    }

    private static RankRange Range(double[] ranks, double tail)
    {
        var (mean, sum, lowest, highest) = (0.0, 0.0, 0, 0);
        for (var k = 0; k < ranks.Length; k++)
        {
            mean += (k + 1) * ranks[k];
            sum += ranks[k];
            if (lowest == 0 && sum > tail) lowest = k + 1;
            if (highest == 0 && sum >= 1 - tail - 1e-12) highest = k + 1;
        }

        return new(mean, lowest, highest == 0 ? ranks.Length : highest);
    }
}
