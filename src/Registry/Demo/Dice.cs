namespace Registry.Demo;

/// <summary>
/// SplitMix64 (Steele, Lea and Flood, OOPSLA 2014), and nothing but sums, products and comparisons of doubles on top of it: no library
/// logarithm or exponential, whose last bit may differ between machines. So a seed and an anchor day make the same region everywhere.
/// Every family has its own dice: changing one life leaves the others alone.
/// </summary>
internal sealed class Dice(ulong seed)
{
    private ulong _state = seed;

    public static Dice For(ulong seed, int family) =>
        new(unchecked(seed * 0x9E3779B97F4A7C15UL + (ulong)family * 0xD1B54A32D192ED03UL + 1));

    public ulong Next()
    {
        unchecked
        {
            var z = _state += 0x9E3779B97F4A7C15UL;
            z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9UL;
            z = (z ^ (z >> 27)) * 0x94D049BB133111EBUL;
            return z ^ (z >> 31);
        }
    }

    /// <summary>Uniform in [0, 1).</summary>
    public double Unit() => (Next() >> 11) * (1.0 / (1UL << 53));

    public bool Chance(double probability) => Unit() < probability;

    /// <summary>Uniform whole number in [low, high].</summary>
    public int Between(int low, int high) => low + (int)(Unit() * (high - low + 1));

    public T Of<T>(IReadOnlyList<T> list) => list[Between(0, list.Count - 1)];

    /// <summary>Index drawn in proportion to the weights.</summary>
    public int Weighted(double[] weights)
    {
        var total = 0.0;
        foreach (var weight in weights) total += weight;
        var left = Unit() * total;
        for (var i = 0; i < weights.Length - 1; i++)
            if ((left -= weights[i]) < 0) return i;
        return weights.Length - 1;
    }

    /// <summary>Log-normal with the given median; <paramref name="spread"/> is the standard deviation of the logarithm.
    /// The normal is the sum of twelve uniforms less six.</summary>
    public double LogNormal(double median, double spread)
    {
        var normal = -6.0;
        for (var i = 0; i < 12; i++) normal += Unit();
        return median * Exponential(spread * normal);
    }

    /// <summary>e to the <paramref name="x"/>, by its series after halving eight times; relative error under 1e-12 for |x| ≤ 6.</summary>
    private static double Exponential(double x)
    {
        var small = x / 256;
        var (sum, term) = (1.0, 1.0);
        for (var n = 1; n <= 9; n++)
        {
            term = term * small / n;
            sum += term;
        }

        for (var i = 0; i < 8; i++) sum *= sum;
        return sum;
    }
}
