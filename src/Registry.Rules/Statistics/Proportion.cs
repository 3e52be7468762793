using MathNet.Numerics.Distributions;

namespace Registry.Rules.Statistics;

/// <summary>A closed interval of a proportion, both ends in [0, 1].</summary>
public readonly record struct Interval(double Lower, double Upper);

/// <summary>
/// A count over a count. 0/0 is no data: <see cref="Rate"/> and every interval are null, never zero.
/// </summary>
public readonly record struct Proportion
{
    /// <exception cref="ArgumentOutOfRangeException">A count is negative, or the numerator exceeds the denominator.</exception>
    public Proportion(long numerator, long denominator)
    {
        ArgumentOutOfRangeException.ThrowIfNegative(numerator);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(numerator, denominator);
        Numerator = numerator;
        Denominator = denominator;
    }

    public long Numerator { get; }
    public long Denominator { get; }

    public double? Rate => Denominator == 0 ? null : (double)Numerator / Denominator;

    /// <summary>Percent to one decimal, halves away from zero, as the national survey publishes it (33/48 = 68.75 → 68.8).
    /// Exact: computed in whole numbers, so that a tie is a tie.</summary>
    public decimal? ToPercent() => Scaled(100);

    /// <summary>Rate per 1,000 to one decimal, halves away from zero.</summary>
    public decimal? PerThousand() => Scaled(1000);

    /// <summary>Wilson's score interval (E. B. Wilson, JASA 1927;22:209; Newcombe's method 3, Stat Med 1998;17:857).
    /// Unlike the textbook interval it does not collapse at 0/n and does not leave [0, 1].</summary>
    public Interval? Wilson(double confidence = 0.95)
    {
        if (Rate is not { } p) return null;
        double n = Denominator, z = Z(confidence), z2 = z * z;
        var centre = (p + z2 / (2 * n)) / (1 + z2 / n);
        var half = z * Math.Sqrt(p * (1 - p) / n + z2 / (4 * n * n)) / (1 + z2 / n);
        return new Interval(Numerator == 0 ? 0 : Math.Max(0, centre - half), Numerator == Denominator ? 1 : Math.Min(1, centre + half));
    }

    /// <summary>Wilson's interval with continuity correction (Newcombe's method 4, Stat Med 1998;17:857).</summary>
    public Interval? WilsonContinuity(double confidence = 0.95)
    {
        if (Rate is not { } p) return null;
        double n = Denominator, z = Z(confidence), z2 = z * z, q = 1 - p;
        var lower = (2 * n * p + z2 - 1 - z * Math.Sqrt(z2 - 2 - 1 / n + 4 * p * (n * q + 1))) / (2 * (n + z2));
        var upper = (2 * n * p + z2 + 1 + z * Math.Sqrt(z2 + 2 - 1 / n + 4 * p * (n * q - 1))) / (2 * (n + z2));
        return new Interval(Numerator == 0 ? 0 : Math.Max(0, lower), Numerator == Denominator ? 1 : Math.Min(1, upper));
    }

    /// <summary>The exact interval of Clopper and Pearson (Biometrika 1934;26:404): never covers less than it says.</summary>
    public Interval? ClopperPearson(double confidence = 0.95)
    {
        if (Denominator == 0) return null;
        var tail = (1 - Check(confidence)) / 2;
        return new Interval(
            Numerator == 0 ? 0 : Beta.InvCDF(Numerator, Denominator - Numerator + 1, tail),
            Numerator == Denominator ? 1 : Beta.InvCDF(Numerator + 1, Denominator - Numerator, 1 - tail));
    }

    private decimal? Scaled(int factor) =>
        Denominator == 0 ? null : Math.Round((decimal)Numerator * factor / Denominator, 1, MidpointRounding.AwayFromZero);

    private static double Z(double confidence) => Normal.InvCDF(0, 1, 1 - (1 - Check(confidence)) / 2);

    private static double Check(double confidence) => confidence is > 0 and < 1
        ? confidence
        : throw new ArgumentOutOfRangeException(nameof(confidence), confidence, "A confidence level lies between 0 and 1.");
}
