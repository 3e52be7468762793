using MathNet.Numerics;

namespace Registry.Rules.Statistics;

/// <summary>One unit's count, with the rate that is expected of it.</summary>
/// <param name="Observed">Its counts.</param>
/// <param name="Expected">Its prior mean, in (0, 1): what its case mix lets expect.</param>
public readonly record struct ExpectedCount(Proportion Observed, double Expected);

/// <summary>What is believed of a unit's true rate after its own count and all the others'.</summary>
/// <param name="Rate">Posterior mean.</param>
/// <param name="Limits">Equal tails; null where units do not differ measurably: that an estimate lies on its boundary makes nobody's rate
/// certain.</param>
/// <param name="FarAbove">Probability that the rate is more than the stated multiple of the expected one; null likewise.</param>
public readonly record struct ShrunkenRate(double Rate, Interval? Limits, double? FarAbove);

/// <summary>
/// Beta-binomial model of units that differ (Williams, Biometrics 1975;31:949; Griffiths, Biometrics 1973;29:637), by maximum
/// likelihood: a unit's true rate has a beta distribution with mean μ and variance μ(1 − μ)θ/(1 + θ), θ = 1/(α + β). Small units are
/// drawn to their expected rate, large ones hardly.
/// </summary>
/// <param name="Mean">μ.</param>
/// <param name="Theta">θ; 0 where units differ no more than chance lets them.</param>
public readonly record struct BetaBinomial(double Mean, double Theta)
{
    private const double Least = 1e-7, Most = 1e3;

    /// <summary>Fits both parameters: one common mean.</summary>
    /// <exception cref="ArgumentException">No unit has data, or all outcomes are the same.</exception>
    public static BetaBinomial Fit(IReadOnlyCollection<Proportion> units)
    {
        var (events, trials) = (units.Sum(u => u.Numerator), units.Sum(u => u.Denominator));
        if (events == 0 || events == trials) throw new ArgumentException("A rate of 0 or 1 leaves nothing to fit.", nameof(units));
        var theta = Root(t => Slope(Expecting(units, MeanAt(units, t)), t));
        return new(theta == 0 ? (double)events / trials : MeanAt(units, theta), theta);
    }

    /// <summary>θ alone, each unit with its own expected rate.</summary>
    /// <returns>0 where the units differ no more than chance lets them.</returns>
    public static double Spread(IReadOnlyCollection<ExpectedCount> units) => Root(t => Slope(units, t));

    /// <summary>Log-likelihood with its binomial coefficients.</summary>
    public double LogLikelihood(IEnumerable<Proportion> units)
    {
        var (a, b) = (Mean / Theta, (1 - Mean) / Theta);
        return units.Sum(u => SpecialFunctions.BinomialLn(checked((int)u.Denominator), checked((int)u.Numerator))
            + SpecialFunctions.BetaLn(u.Numerator + a, u.Denominator - u.Numerator + b) - SpecialFunctions.BetaLn(a, b));
    }

    /// <summary>Posterior of one unit.</summary>
    /// <param name="unit">Counts and expected rate.</param>
    /// <param name="theta">θ of all units.</param>
    /// <param name="multiple">Far above is more than so many times the expected rate.</param>
    /// <param name="confidence">Of the limits.</param>
    public static ShrunkenRate Shrink(ExpectedCount unit, double theta, double multiple, double confidence = .95)
    {
        var limit = multiple * unit.Expected;
        if (theta <= 0) return new(unit.Expected, null, null);
        var (a, b) = Posterior(unit, theta);
        var tail = (1 - confidence) / 2;
        var rate = new TabulatedBeta(a, b);
        return new(a / (a + b), new Interval(rate.Quantile(tail), rate.Quantile(1 - tail)), 1 - rate.Below(limit));
    }

    /// <summary>Parameters of the beta distribution that is the posterior; θ above 0.</summary>
    public static (double A, double B) Posterior(ExpectedCount unit, double theta) =>
        (unit.Expected / theta + unit.Observed.Numerator,
            (1 - unit.Expected) / theta + unit.Observed.Denominator - unit.Observed.Numerator);

    private static ExpectedCount[] Expecting(IEnumerable<Proportion> units, double mean) =>
        [.. units.Select(u => new ExpectedCount(u, mean))];

    /// <summary>dℓ/d ln θ.</summary>
    private static double Slope(IEnumerable<ExpectedCount> units, double theta)
    {
        var sum = 0.0;
        foreach (var unit in units)
        {
            var (byA, byB, a, b) = Derivatives(unit, theta);
            sum -= a * byA + b * byB;
        }

        return sum;
    }

    private static double MeanAt(IReadOnlyCollection<Proportion> units, double theta)
    {
        var (low, high) = (1e-9, 1 - 1e-9);
        for (var i = 0; i < 60; i++)
        {
            var mean = (low + high) / 2;
            var slope = Expecting(units, mean).Sum(u => Derivatives(u, theta) is var d ? d.ByA - d.ByB : 0);
            if (slope > 0) low = mean;
            else high = mean;
        }

        return (low + high) / 2;
    }

    private static (double ByA, double ByB, double A, double B) Derivatives(ExpectedCount unit, double theta)
    {
        double a = unit.Expected / theta, b = (1 - unit.Expected) / theta, x = unit.Observed.Numerator, n = unit.Observed.Denominator;
        var common = SpecialFunctions.DiGamma(a + b) - SpecialFunctions.DiGamma(n + a + b);
        return (SpecialFunctions.DiGamma(x + a) - SpecialFunctions.DiGamma(a) + common,
            SpecialFunctions.DiGamma(n - x + b) - SpecialFunctions.DiGamma(b) + common, a, b);
    }

    /// <summary>Where a slope turns from rising to falling; 0 where it falls from the beginning.</summary>
    private static double Root(Func<double, double> slope)
    {
        if (slope(1e-5) <= 0) return 0;
        var (low, high) = (Math.Log(Least), Math.Log(Most));
        for (var i = 0; i < 60; i++)
        {
            var middle = (low + high) / 2;
            if (slope(Math.Exp(middle)) > 0) low = middle;
            else high = middle;
        }

        return Math.Exp((low + high) / 2);
    }
}
