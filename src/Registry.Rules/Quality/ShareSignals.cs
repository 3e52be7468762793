namespace Registry.Rules.Quality;

/// <summary>
/// Shares signals between sites so that a doubling of refers is found within a month at as many as can find it. Every site keeps a
/// part by weight; of the rest, who lacks the fewest has them first, and no more than it lacks; what is left is shared by weight between
/// those for whom it is not enough. Own choice: shared by weight alone, a large site has more than it can use and a medium one too few,
/// and a small one sees no doubling within a month either way.
/// </summary>
public static class ShareSignals
{
    /// <summary>Probability of finding it, and in how many days. A little more than nine in ten: a chart that was begun anew lately, since
    /// a case was closed, is slower than one that has long run.</summary>
    public const double Wanted = .94;
    public const int WithinDays = 30;

    /// <summary>Part of its share by weight that a site keeps whatever others need; how many equal shares nobody has more than; and how
    /// many times that a site may need to have it all the same. Own choices.</summary>
    private const double Kept = .4, Most = 3.5, NearlyEnough = 1.5;

    /// <param name="needed">Signals a year that each site needs; infinite where none are enough.</param>
    /// <param name="weights">By which the rest is shared.</param>
    /// <param name="perYear">Signals a year of all together.</param>
    /// <returns>Signals a year of each; their sum is what there is, unless nobody lacks that many.</returns>
    public static double[] Among(IReadOnlyList<double> needed, IReadOnlyList<double> weights, double perYear)
    {
        var all = weights.Sum();
        var shares = weights.Select(w => Kept * perYear * w / all).ToArray();
        var left = perYear - shares.Sum();
        var most = Most * perYear / needed.Count;
        foreach (var site in Enumerable.Range(0, needed.Count).Where(i => needed[i] <= NearlyEnough * most).OrderBy(i => needed[i]))
        {
            var more = Math.Min(Math.Min(needed[site], most) - shares[site], left);
            if (more <= 0) continue;
            shares[site] += more;
            left -= more;
        }

        int[] others = [.. Enumerable.Range(0, needed.Count).Where(i => shares[i] < Math.Min(needed[i], most))];
        var theirs = others.Sum(i => weights[i]);
        foreach (var site in others) shares[site] += left * weights[site] / theirs;
        return shares;
    }
}
