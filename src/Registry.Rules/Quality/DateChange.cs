using Registry.Rules.Statistics;

namespace Registry.Rules.Quality;

/// <summary>Infants of a day at one expected risk.</summary>
/// <param name="Day">Day number.</param>
/// <param name="Trials">How many.</param>
/// <param name="Events">Of them with the outcome.</param>
/// <param name="Logit">Of the risk expected of each.</param>
public readonly record struct DatedTrials(int Day, int Trials, int Events, double Logit);

/// <summary>When the odds changed, by how much, and how much better that fits than no change.</summary>
/// <param name="First">First day of the interval.</param>
/// <param name="Best">The likeliest first day of the change.</param>
/// <param name="Last">Last day of the interval.</param>
/// <param name="LogOdds">δ: logarithm of the odds ratio since then.</param>
/// <param name="StandardError">Of δ, the day taken as known.</param>
/// <param name="Gain">Log-likelihood ratio against no change; 0 when there is none.</param>
public readonly record struct DatedChange(int First, int Best, int Last, double LogOdds, double StandardError, double Gain);

/// <summary>
/// The change point of a sequence whose expected risks are known (Hinkley, Biometrika 1970;57:1): the day τ and log odds ratio δ
/// that maximize Σ over days from τ of y·δ − n·ln(1 − p + p·e^δ), and the days whose own maximum is within 3.32 of it, half the
/// .99 quantile of χ²₁: a change point is not regular, and half the .95 quantile held the true day too seldom. How often the interval holds
/// it is measured (docs/site-quality.md). Where something is known of changes beforehand, δ has a normal prior around no change: without
/// one, three refers of three infants are the likeliest change of all.
/// </summary>
public static class DateChange
{
    private const double Fall = 3.32;
    private static readonly double[] Steps = [.25, .5, .75, 1, 1.25, 1.5, 2, 2.5, 3, 4, 5];

    /// <param name="rows">In order of day.</param>
    /// <param name="above">Whether the odds rose; else they fell.</param>
    /// <param name="spread">Standard deviation of δ beforehand; without: maximum likelihood.</param>
    /// <returns>Null without rows or where no change in that direction fits better than none.</returns>
    public static DatedChange? Of(IReadOnlyList<DatedTrials> rows, bool above, double spread = double.PositiveInfinity)
    {
        if (rows.Count == 0) return null;
        var days = rows.Select(r => r.Day).Distinct().ToArray();
        var best = new double[days.Length];
        foreach (var step in Steps)
        {
            var delta = above ? step : -step;
            var odds = Math.Exp(delta);
            var (sum, day) = (-Surprise(delta, spread), days.Length - 1);
            for (var i = rows.Count - 1; i >= 0; i--)
            {
                if (rows[i].Day != days[day]) day--;
                sum += Weight(rows[i], delta, odds);
                if (i == 0 || rows[i - 1].Day != days[day]) best[day] = Math.Max(best[day], sum);
            }
        }

        var at = Array.IndexOf(best, best.Max());
        if (best[at] <= 0) return null;
        var since = rows.Where(r => r.Day >= days[at]).ToList();
        var (logOdds, error) = Estimate(since, above, spread);
        var gain = Math.Max(best[at], since.Sum(r => Weight(r, logOdds, Math.Exp(logOdds))) - Surprise(logOdds, spread));
        var inside = Enumerable.Range(0, days.Length).Where(i => best[i] >= best[at] - Fall).ToArray();
        return new(days[inside[0]], days[at], days[inside[^1]], logOdds, error, gain);
    }

    /// <summary>δ of rows that all belong to the time after the change, by halving the range [−6, 6].</summary>
    public static (double LogOdds, double StandardError) Estimate(
        IReadOnlyList<DatedTrials> rows, bool above, double spread = double.PositiveInfinity)
    {
        var (low, high) = above ? (0.0, 6.0) : (-6.0, 0.0);
        for (var i = 0; i < 40; i++)
        {
            var middle = (low + high) / 2;
            var slope = rows.Sum(r => r.Events - r.Trials * LogisticRegression.Probability(r.Logit + middle)) - middle / (spread * spread);
            if (slope > 0) low = middle;
            else high = middle;
        }

        var delta = (low + high) / 2;
        var information = rows.Sum(r => LogisticRegression.Probability(r.Logit + delta) is var p ? r.Trials * p * (1 - p) : 0)
            + 1 / (spread * spread);
        return (delta, information > 0 ? 1 / Math.Sqrt(information) : double.PositiveInfinity);
    }

    private static double Surprise(double delta, double spread) => delta * delta / (2 * spread * spread);

    private static double Weight(DatedTrials row, double delta, double odds)
    {
        var p = LogisticRegression.Probability(row.Logit);
        return row.Events * delta - row.Trials * Math.Log(1 - p + p * odds);
    }
}
