namespace Registry.Rules.Statistics;

/// <summary>One test in the sequence: how likely the outcome was beforehand, and whether it happened.</summary>
/// <param name="Risk">Expected probability of the outcome, in (0, 1): what the program expects of an infant of this age and test.</param>
/// <param name="Happened">The outcome, for instance a refer.</param>
public readonly record struct RiskedOutcome(double Risk, bool Happened);

/// <summary>The chart after one test.</summary>
/// <param name="Value">Accumulated evidence, a log-likelihood ratio; never negative.</param>
/// <param name="Signal">The value reaches the threshold.</param>
public readonly record struct CusumPoint(double Value, bool Signal);

/// <summary>
/// Risk-adjusted cumulative sum (Steiner, Cook, Farewell and Treasure, Biostatistics 2000;1:441; formula from memory): evidence that the
/// odds of an outcome are multiplied by R_A, accumulated test by test, each weighed by its own expected probability p. The weight is the
/// log-likelihood ratio of odds ratio R_A against 1: ln(R_A/(1 − p + R_A·p)) when it happened, ln(1/(1 − p + R_A·p)) when it did not; the
/// sum never falls below 0, so that a good past cannot hide a change.
/// </summary>
/// <remarks>With R_A below 1 it looks for a fall; the paper draws that one downwards, here it rises too. A signal does not restart
/// the sum: whoever has looked into it begins again at 0. The chance of a false signal is set by the threshold and the length of
/// the sequence, not by a p-value.</remarks>
public static class RiskAdjustedCusum
{
    /// <summary>The weight of one test, in natural logarithms.</summary>
    /// <param name="test">Its risk and outcome.</param>
    /// <param name="oddsRatio">R_A, positive and not 1: the change to look for.</param>
    /// <exception cref="ArgumentOutOfRangeException">The risk or the odds ratio lies outside its range.</exception>
    public static double Weight(RiskedOutcome test, double oddsRatio)
    {
        if (test.Risk is not (> 0 and < 1))
            throw new ArgumentOutOfRangeException(nameof(test), test.Risk, "A risk lies between 0 and 1, both excluded.");
        if (!(oddsRatio > 0) || !double.IsFinite(oddsRatio) || oddsRatio == 1)
            throw new ArgumentOutOfRangeException(nameof(oddsRatio), oddsRatio, "An odds ratio to look for is positive and not 1.");
        return Math.Log((test.Happened ? oddsRatio : 1) / (1 - test.Risk + oddsRatio * test.Risk));
    }

    /// <summary>The chart: a point per test, in the order given.</summary>
    /// <param name="tests">In time order.</param>
    /// <param name="oddsRatio">R_A.</param>
    /// <param name="threshold">h, positive: the value that signals.</param>
    /// <exception cref="ArgumentOutOfRangeException">An argument lies outside its range.</exception>
    public static CusumPoint[] Accumulate(IEnumerable<RiskedOutcome> tests, double oddsRatio, double threshold)
    {
        if (!(threshold > 0)) throw new ArgumentOutOfRangeException(nameof(threshold), threshold, "A threshold is positive.");
        var value = 0.0;
        return [.. tests.Select(test =>
        {
            value = Math.Max(0, value + Weight(test, oddsRatio));
            return new CusumPoint(value, value >= threshold);
        })];
    }
}
