using Registry.Rules.Statistics;

namespace Registry.Rules.Quality;

/// <summary>One site, instrument or probe against the rate of all of them together.</summary>
/// <param name="Observed">Its counts.</param>
/// <param name="Target">The pooled rate it is compared with; null when nobody has data.</param>
/// <param name="UpperLimit">The 99.8 % funnel limit at its size; null without data.</param>
/// <param name="AdjustedP">One-sided exact p-value, adjusted for testing all at once; null without data.</param>
/// <param name="High">Flagged: a person should look.</param>
public readonly record struct RateComparison(Proportion Observed, double? Target, double? UpperLimit, double? AdjustedP, bool High);

/// <summary>
/// Flags rates that are too high for chance: an exact binomial tail of at most 0.001 at the pooled rate, as beyond the 99.8 % funnel limit
/// (Spiegelhalter, Stat Med 2005;24:1185), and rejected at a false discovery rate of 5 % over all units compared (Benjamini and Hochberg
/// 1995). A flag says where to look, not who is at fault: case mix, the age at screening and the season differ between sites.
/// </summary>
/// <remarks>No published benchmark exists for rates of invalid tests; comparing with the region itself is our choice. The limits use
/// the exact binomial distribution, so that a small unit is not flagged for one bad day. The limit between whole counts is for drawing: a
/// count that is the quantile itself lies above it though its tail is larger (7 of 24 at .0844: .0029).</remarks>
public static class FlagHighRates
{
    public const double Limit = 0.999;
    public const double FalseDiscoveryRate = 0.05;

    /// <param name="units">Counts of every unit compared.</param>
    /// <returns>One comparison per unit, in the same order.</returns>
    public static RateComparison[] Compare(IReadOnlyList<Proportion> units)
    {
        var pooled = new Proportion(units.Sum(u => u.Numerator), units.Sum(u => u.Denominator));
        if (pooled.Rate is not { } target) return [.. units.Select(u => new RateComparison(u, null, null, null, false))];
        if (target is 0 or 1) return [.. units.Select(u => new RateComparison(u, target, null, null, false))];

        var withData = units.Index().Where(u => u.Item.Denominator > 0).ToArray();
        double[] tails = [.. withData.Select(u => FunnelLimits.UpperTail(u.Item, target))];
        var adjusted = BenjaminiHochberg.Adjust(tails);
        var result = units.Select(u => new RateComparison(u, target, null, null, false)).ToArray();
        foreach (var (unit, tail, p) in withData.Zip(tails, adjusted))
        {
            var limit = FunnelLimits.At(target, checked((int)unit.Item.Denominator), Limit);
            result[unit.Index] = new RateComparison(unit.Item, target, limit, p, tail <= 1 - Limit && p <= FalseDiscoveryRate);
        }

        return result;
    }
}
