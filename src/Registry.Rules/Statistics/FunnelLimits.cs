using MathNet.Numerics.Distributions;

namespace Registry.Rules.Statistics;

/// <summary>
/// Exact binomial control limits of a funnel plot (Spiegelhalter, Stat Med 2005;24:1185): for target θ, size n and tail
/// probability p the limit is (r − α)/n, where r is the smallest count with F(r) ≥ p and α = (F(r) − p)/(F(r) − F(r−1))
/// interpolates between whole counts; a negative limit is clipped to 0.
/// </summary>
public static class FunnelLimits
{
    /// <summary>The limit whose lower tail is <paramref name="p"/>, as a proportion.</summary>
    /// <param name="target">θ, in (0, 1).</param>
    /// <param name="n">Denominator, at least 1.</param>
    /// <param name="p">Tail probability in (0, 1): .025 and .975 for 95 % limits, .001 and .999 for 99.8 %.</param>
    /// <exception cref="ArgumentOutOfRangeException">An argument lies outside its range.</exception>
    public static double At(double target, int n, double p)
    {
        InUnit(target, nameof(target));
        InUnit(p, nameof(p));
        ArgumentOutOfRangeException.ThrowIfLessThan(n, 1);
        // One sum of the distribution near where the limit is; from there single counts are added or taken away.
        var r = Near(target, n, p);
        var upTo = Binomial.CDF(target, n, r);
        while (upTo < p && r < n) upTo += Binomial.PMF(target, n, ++r);
        var count = Binomial.PMF(target, n, r);
        while (r > 0 && upTo - count >= p)
        {
            upTo -= count;
            count = Binomial.PMF(target, n, --r);
        }

        return Math.Max(0, (r - ((upTo - p) / count)) / n);
    }

    /// <summary>The count near which the limit is: the normal curve's, moved for skewness (the first terms of the expansion of Cornish and
    /// Fisher, Rev Inst Int Stat 1938;5:307; from memory) and by half a count.</summary>
    private static int Near(double target, int n, double p)
    {
        var z = Normal.InvCDF(0, 1, p);
        var guess = (n * target) + (z * Math.Sqrt(n * target * (1 - target))) + ((1 - (2 * target)) * ((z * z) - 1) / 6) - .5;
        return (int)Math.Clamp(Math.Ceiling(guess), 0, n);
    }

    /// <summary>Exact probability of a count at least as high as observed when the true rate is <paramref name="target"/>: the
    /// one-sided p-value of "this site is not higher than the target".</summary>
    public static double UpperTail(Proportion observed, double target)
    {
        InUnit(target, nameof(target));
        return observed.Numerator == 0
            ? 1
            : Math.Clamp(1 - Binomial.CDF(target, checked((int)observed.Denominator), observed.Numerator - 1), 0, 1);
    }

    private static void InUnit(double value, string name)
    {
        if (value is not (> 0 and < 1)) throw new ArgumentOutOfRangeException(name, value, "Lies between 0 and 1, both excluded.");
    }
}
