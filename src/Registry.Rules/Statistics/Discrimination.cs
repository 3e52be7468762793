using MathNet.Numerics.Distributions;

namespace Registry.Rules.Statistics;

/// <summary>How well a probability tells those with an outcome from those without: the chance that one with it has the higher of
/// two. A half is no better than a coin.</summary>
/// <param name="Area">The area under the receiver operating characteristic.</param>
/// <param name="StandardError">Of the area.</param>
public readonly record struct AreaUnderCurve(double Area, double StandardError)
{
    /// <summary>The normal interval, kept within [0, 1].</summary>
    public Interval Interval(double confidence = 0.95)
    {
        var half = Normal.InvCDF(0, 1, (1 + confidence) / 2) * StandardError;
        return new(Math.Max(0, Area - half), Math.Min(1, Area + half));
    }
}

/// <summary>The area under the receiver operating characteristic as a rank sum, ties counted half, with the standard error of Hanley and
/// McNeil (Radiology 1982;143:29).</summary>
public static class Discrimination
{
    /// <param name="scored">Each with its score, the higher the likelier.</param>
    /// <param name="independent">Of how many each count is, where cases repeat (an infant seen at several ages): the standard error is
    /// theirs. Null: every case stands for itself.</param>
    /// <returns>Null where nobody or everybody had the outcome.</returns>
    public static AreaUnderCurve? Of(IReadOnlyCollection<(double Score, bool Event)> scored, (long With, long Without)? independent = null)
    {
        long with = scored.Count(s => s.Event), without = scored.Count - with;
        if (with == 0 || without == 0) return null;
        var (wins, below) = (0.0, 0L);
        foreach (var tied in scored.GroupBy(s => s.Score).OrderBy(g => g.Key))
        {
            long events = tied.Count(s => s.Event), others = tied.Count() - events;
            wins += events * (below + others / 2.0);
            below += others;
        }

        var area = wins / with / without;
        var (n, m) = independent ?? (with, without);
        var (q1, q2) = (area / (2 - area), 2 * area * area / (1 + area));
        var variance = (area * (1 - area) + (n - 1) * (q1 - area * area) + (m - 1) * (q2 - area * area)) / ((double)n * m);
        return new(area, Math.Sqrt(Math.Max(0, variance)));
    }
}
