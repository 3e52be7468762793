using System.Numerics;
using MathNet.Numerics.Distributions;

namespace Registry.Rules.Statistics;

/// <summary>Trials that share a probability.</summary>
/// <param name="Trials">Not negative.</param>
/// <param name="Risk">In (0, 1).</param>
public readonly record struct RiskedTrials(int Trials, double Risk);

/// <summary>
/// Tails of a count of independent events that differ in probability (Poisson, 1837): what a unit with its own case mix sees by chance.
/// Exact by convolution up to <see cref="ExactWork"/> products; beyond that the saddlepoint approximation of Lugannani and Rice with
/// Daniels' continuity correction (Int Stat Rev 1987;55:37; from memory), which there agrees to three digits.
/// </summary>
public static class PoissonBinomial
{
    private const long ExactWork = 4_000_000;

    private const double Nothing = 1e-40;

    /// <summary>Standard deviations from the mean within which the saddlepoint formula loses its digits.</summary>
    private const double AtTheMean = .02;

    /// <summary>P(X ≥ x): the one-sided p-value of "not higher".</summary>
    public static double Upper(IReadOnlyList<RiskedTrials> trials, int x)
    {
        if (x <= 0) return 1;
        var n = trials.Sum(t => (long)t.Trials);
        if (x > n) return 0;
        if (n * x > ExactWork) return Saddlepoint(trials, x);
        return Math.Clamp(1 - Below(trials, x).Sum(), 0, 1);
    }

    /// <summary>P(X ≤ x): the one-sided p-value of "not lower".</summary>
    public static double Lower(IReadOnlyList<RiskedTrials> trials, int x) => Math.Clamp(1 - Upper(trials, x + 1), 0, 1);

    /// <summary>P(X > x) + P(X = x)/2: on average neither too large nor too small (Lancaster, JASA 1961;56:223).</summary>
    public static double UpperMidP(IReadOnlyList<RiskedTrials> trials, int x)
    {
        if (x < 0 || trials.Sum(t => (long)t.Trials) * (x + 1) > ExactWork) return (Upper(trials, x) + Upper(trials, x + 1)) / 2;
        var mass = Below(trials, x + 1);
        return Math.Clamp(1 - mass[..x].Sum() - mass[x] / 2, 0, 1);
    }

    /// <summary>P(X &lt; x) + P(X = x)/2.</summary>
    public static double LowerMidP(IReadOnlyList<RiskedTrials> trials, int x) => 1 - UpperMidP(trials, x);

    /// <summary>P(X = 0), …, P(X = limit − 1); what is less than <see cref="Nothing"/> at the lower end is 0.</summary>
    public static double[] Below(IReadOnlyList<RiskedTrials> trials, int limit)
    {
        var mass = new double[limit];
        mass[0] = 1;
        var (least, most) = (0, 0);
        foreach (var (count, p) in trials)
            for (var i = 0; i < count; i++)
            {
                most = Math.Min(most + 1, limit - 1);
                AddTrial(mass, p, least, most);
                // Numbers so small are slow to compute with and change no digit of a tail.
                while (least < most && mass[least] < Nothing) mass[least++] = 0;
            }

        return mass;
    }

    /// <summary>One trial more, in place: from above, so that each is made of what was there before.</summary>
    private static void AddTrial(double[] mass, double p, int least, int most)
    {
        var k = most;
        for (var width = Vector<double>.Count; k - width >= least; k -= width)
        {
            var here = new Vector<double>(mass, k - width + 1);
            (here + (p * (new Vector<double>(mass, k - width) - here))).CopyTo(mass, k - width + 1);
        }

        for (; k > least; k--) mass[k] += p * (mass[k - 1] - mass[k]);
        mass[least] *= 1 - p;
    }

    private static double Saddlepoint(IReadOnlyList<RiskedTrials> trials, int x)
    {
        var sd = Math.Sqrt(trials.Sum(t => t.Trials * t.Risk * (1 - t.Risk)));
        var z = (x - .5 - trials.Sum(t => t.Trials * t.Risk)) / sd;
        if (Math.Abs(z) < AtTheMean) return AroundTheMean(trials, z, sd);
        var (low, high) = (-60.0, 60.0);
        for (var i = 0; i < 200; i++)
        {
            var middle = (low + high) / 2;
            if (trials.Sum(t => t.Trials * Tilted(t.Risk, middle)) < x - .5) low = middle;
            else high = middle;
        }

        var s = (low + high) / 2;
        var generating = trials.Sum(t => t.Trials * Math.Log(1 - t.Risk + t.Risk * Math.Exp(s)));
        var variance = trials.Sum(t => t.Trials * Tilted(t.Risk, s) * (1 - Tilted(t.Risk, s)));
        var w = Math.Sign(s) * Math.Sqrt(Math.Max(0, 2 * (s * (x - .5) - generating)));
        var u = 2 * Math.Sinh(s / 2) * Math.Sqrt(variance);
        return Math.Clamp(Normal.CDF(0, 1, -w) + Normal.PDF(0, 1, w) * (1 / u - 1 / w), 0, 1);
    }

    /// <summary>The first term of Edgeworth's series, which the formula comes to at the mean: there it is the difference of two quantities
    /// without limit.</summary>
    private static double AroundTheMean(IReadOnlyList<RiskedTrials> trials, double z, double sd)
    {
        var skewness = trials.Sum(t => t.Trials * t.Risk * (1 - t.Risk) * (1 - 2 * t.Risk)) / (sd * sd * sd);
        return Normal.CDF(0, 1, -z) - Normal.PDF(0, 1, z) * skewness / 6 * (1 - z * z);
    }

    private static double Tilted(double p, double s) => p * Math.Exp(s) / (1 - p + p * Math.Exp(s));
}
