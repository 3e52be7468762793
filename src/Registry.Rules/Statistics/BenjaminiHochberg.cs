namespace Registry.Rules.Statistics;

/// <summary>
/// The step-up procedure of Benjamini and Hochberg (J R Stat Soc B 1995;57:289): of many tests, reject so that the expected share
/// of false rejections stays at <c>q</c>. Used when every site and probe is tested at once.
/// </summary>
public static class BenjaminiHochberg
{
    /// <summary>Adjusted p-values in the order given: the smallest q at which each would be rejected.</summary>
    /// <exception cref="ArgumentOutOfRangeException">A p-value lies outside [0, 1].</exception>
    public static double[] Adjust(IReadOnlyList<double> p)
    {
        foreach (var value in p)
            if (value is not (>= 0 and <= 1)) throw new ArgumentOutOfRangeException(nameof(p), value, "A p-value lies in [0, 1].");
        var order = Enumerable.Range(0, p.Count).OrderByDescending(i => p[i]).ToArray();
        var adjusted = new double[p.Count];
        var smallest = 1.0;
        for (var k = 0; k < order.Length; k++)
        {
            var rank = p.Count - k;
            smallest = Math.Min(smallest, p[order[k]] * ((double)p.Count / rank));
            adjusted[order[k]] = smallest;
        }

        return adjusted;
    }

    /// <summary>Which hypotheses are rejected at false discovery rate <paramref name="q"/>.</summary>
    /// <exception cref="ArgumentOutOfRangeException">A p-value or <paramref name="q"/> lies outside [0, 1].</exception>
    public static bool[] Reject(IReadOnlyList<double> p, double q)
    {
        if (q is not (>= 0 and <= 1)) throw new ArgumentOutOfRangeException(nameof(q), q, "A false discovery rate lies in [0, 1].");
        return [.. Adjust(p).Select(a => a <= q)];
    }
}
