namespace Registry.Rules.Statistics;

/// <summary>
/// The log-rank test of two groups' waiting times (Mantel, Cancer Chemother Rep 1966;50:163): at each event time the events expected in
/// the first group under equal hazards, with the hypergeometric variance.
/// </summary>
public static class LogRank
{
    /// <returns>χ² with one degree of freedom; null when no event can tell the groups apart.</returns>
    public static double? ChiSquared(IReadOnlyList<Waiting> first, IReadOnlyList<Waiting> second)
    {
        double excess = 0, variance = 0;
        foreach (var time in first.Concat(second).Where(w => w.Event).Select(w => w.Time).Distinct())
        {
            double n1 = first.Count(w => w.Time >= time), n2 = second.Count(w => w.Time >= time), n = n1 + n2;
            double d1 = first.Count(w => w.Event && w.Time == time), d = d1 + second.Count(w => w.Event && w.Time == time);
            excess += d1 - d * n1 / n;
            if (n > 1) variance += d * (n1 / n) * (n2 / n) * (n - d) / (n - 1);
        }

        return variance > 0 ? excess * excess / variance : null;
    }
}
