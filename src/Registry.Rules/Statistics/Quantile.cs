namespace Registry.Rules.Statistics;

/// <summary>
/// Sample quantile by linear interpolation between order statistics at (n - 1) p (definition 7 of Hyndman and Fan, The American
/// Statistician 1996;50:361; the one of PostgreSQL's <c>percentile_cont</c> and of spreadsheets).
/// </summary>
public static class Quantile
{
    /// <param name="sorted">In ascending order.</param>
    /// <param name="p">Between 0 and 1.</param>
    /// <returns>Null of an empty sample.</returns>
    /// <exception cref="ArgumentOutOfRangeException"><paramref name="p"/> is not a proportion.</exception>
    public static double? Of(IReadOnlyList<double> sorted, double p)
    {
        if (p is < 0 or > 1 or double.NaN) throw new ArgumentOutOfRangeException(nameof(p), p, "Not between 0 and 1.");
        if (sorted.Count == 0) return null;
        var at = (sorted.Count - 1) * p;
        var below = (int)Math.Floor(at);
        return below == sorted.Count - 1 ? sorted[below] : sorted[below] + ((at - below) * (sorted[below + 1] - sorted[below]));
    }
}
