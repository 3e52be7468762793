namespace Registry.Demo;

/// <summary>
/// SplitMix64 (Steele, Lea and Flood, OOPSLA 2014): small, and the same numbers on every machine and runtime, so that a seed and an
/// anchor day always make the same region. Every family has its own dice, so changing one life leaves the others alone.
/// </summary>
public sealed class Dice(ulong seed)
{
    private ulong _state = seed;

    public static Dice For(ulong seed, int family) => new(unchecked(seed * 0x9E3779B97F4A7C15UL + (ulong)family * 0xD1B54A32D192ED03UL + 1));

    private ulong Next()
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
    public int Weighted(IReadOnlyList<double> weights)
    {
        var left = Unit() * weights.Sum();
        for (var i = 0; i < weights.Count - 1; i++)
            if ((left -= weights[i]) < 0) return i;
        return weights.Count - 1;
    }

    /// <summary>Log-normal with the given median; <paramref name="spread"/> is the standard deviation of the logarithm.</summary>
    public double LogNormal(double median, double spread) =>
        median * Math.Exp(spread * Math.Sqrt(-2 * Math.Log(1 - Unit())) * Math.Cos(2 * Math.PI * Unit()));
}
