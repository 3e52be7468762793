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
        var (low, high) = Around(target, n, p);
        while (high - low > 1)
        {
            var middle = low + (high - low) / 2;
            if (Binomial.CDF(target, n, middle) >= p) high = middle;
            else low = middle;
        }

        var below = high == 0 ? 0 : Binomial.CDF(target, n, high - 1);
        var upTo = Binomial.CDF(target, n, high);
        var alpha = (upTo - p) / (upTo - below);
        return Math.Max(0, (high - alpha) / n);
    }

    /// <summary>Two counts between which the limit is, F(low) &lt; p ≤ F(high), near where the normal curve has it: a few looks instead of
    /// one for every doubling of n.</summary>
    private static (int Low, int High) Around(double target, int n, double p)
    {
        var guess = (int)Math.Clamp(Normal.InvCDF(n * target, Math.Sqrt(n * target * (1 - target)), p), 0, n - 1);
        var (low, high, step) = (guess, guess, 1);
        while (high < n && Binomial.CDF(target, n, high) < p)
        {
            (low, high) = (high, Math.Min(n, high + step));
            step *= 2;
        }

        if (high > guess) return (low, high);
        while (low >= 0 && Binomial.CDF(target, n, low) >= p)
        {
            (high, low) = (low, Math.Max(-1, low - step));
            step *= 2;
        }

        return (low, high);
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
