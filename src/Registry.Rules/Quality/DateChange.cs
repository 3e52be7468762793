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

    /// <summary>Days until a fault that grows has grown, and how many earlier days are asked about. Own choice.</summary>
    private const int Growth = 28, Earlier = 56;
    private static readonly double[] Steps = [.25, .5, .75, 1, 1.25, 1.5, 2, 2.5, 3, 4, 5];

    /// <summary>Infants of a day at one risk put together: the same answers from fewer rows.</summary>
    /// <param name="rows">In order of day.</param>
    public static List<DatedTrials> Together(IEnumerable<DatedTrials> rows)
    {
        var merged = new List<DatedTrials>();
        var (first, day) = (0, int.MinValue);
        foreach (var row in rows)
        {
            if (row.Day != day) (first, day) = (merged.Count, row.Day);
            var at = first;
            while (at < merged.Count && merged[at].Logit != row.Logit) at++;
            if (at == merged.Count) merged.Add(row);
            else merged[at] = merged[at] with { Trials = merged[at].Trials + row.Trials, Events = merged[at].Events + row.Events };
        }

        return merged;
    }

    /// <param name="rows">In order of day.</param>
    /// <param name="above">Whether the odds rose; else they fell.</param>
    /// <param name="spread">Standard deviation of δ beforehand; without: maximum likelihood.</param>
    /// <returns>Null without rows or where no change in that direction fits better than none.</returns>
    public static DatedChange? Of(IReadOnlyList<DatedTrials> rows, bool above, double spread = double.PositiveInfinity)
    {
        if (rows.Count == 0) return null;
        rows = Together(rows);
        var days = new RisksOfDays(rows);
        var best = new double[days.Count];
        foreach (var step in Steps)
        {
            var delta = above ? step : -step;
            var costs = days.Costs(delta);
            var sum = -Surprise(delta, spread);
            for (var day = days.Count - 1; day >= 0; day--)
            {
                sum += days.Gain(day, delta, costs);
                best[day] = Math.Max(best[day], sum);
            }
        }

        var at = Array.IndexOf(best, best.Max());
        if (best[at] <= 0) return null;
        var since = rows.Where(r => r.Day >= days.Day(at)).ToList();
        var (logOdds, error) = Estimate(since, above, spread);
        var odds = Math.Exp(logOdds);
        var estimated = since.Sum(r => Weight(r, LogisticRegression.Probability(r.Logit), logOdds, odds)) - Surprise(logOdds, spread);
        var gain = Math.Max(best[at], estimated);
        var inside = Enumerable.Range(0, days.Count).Where(i => best[i] >= best[at] - Fall).ToArray();
        return new(days.Day(inside[0]), days.Day(at), days.Day(inside[^1]), logOdds, error, gain);
    }

    /// <summary>
    /// The days on which it may have begun when it grew instead of being there at once: a leak is small at first, and a step is then dated
    /// late. For each day of the interval and some before it the log odds ratio rises from there in a straight line to δ; a day that
    /// explains the rows nearly as well as the best step belongs to the interval.
    /// </summary>
    /// <param name="rows">In order of day.</param>
    /// <param name="change">Dated as a step, of the same rows.</param>
    /// <param name="spread">As for the step.</param>
    public static DatedChange Growing(IReadOnlyList<DatedTrials> rows, DatedChange change, double spread)
    {
        var since = new RisksOfDays(Together(rows.Where(r => r.Day >= change.First - Earlier)));
        var begins = Enumerable.Range(0, since.Count).Where(d => since.Day(d) <= change.Best).ToArray();
        var best = begins.ToDictionary(d => d, _ => double.NegativeInfinity);
        foreach (var step in Steps)
        {
            var delta = Math.Sign(change.LogOdds) * step;
            var reached = Enumerable.Range(1, Growth).Select(g => delta * g / Growth).ToArray();
            var costs = reached.Select(since.Costs).ToArray();
            foreach (var begin in begins)
            {
                var sum = -Surprise(step, spread);
                for (var day = begin; day < since.Count; day++)
                {
                    var grown = Math.Min(Growth, since.Day(day) - since.Day(begin) + 1) - 1;
                    sum += since.Gain(day, reached[grown], costs[grown]);
                }

                best[begin] = Math.Max(best[begin], sum);
            }
        }

        var limit = Math.Max(change.Gain, best.Values.Max()) - Fall;
        return change with { First = begins.Where(d => best[d] >= limit).Select(since.Day).Append(change.First).Min() };
    }

    /// <summary>δ of rows that all belong to the time after the change, by halving the range [−6, 6].</summary>
    public static (double LogOdds, double StandardError) Estimate(
        IReadOnlyList<DatedTrials> rows, bool above, double spread = double.PositiveInfinity)
    {
        var risks = ByRisk(rows);
        var (low, high) = above ? (0.0, 6.0) : (-6.0, 0.0);
        for (var i = 0; i < 40; i++)
        {
            var middle = (low + high) / 2;
            var slope = risks.Sum(r => r.Events - r.Trials * LogisticRegression.Probability(r.Logit + middle)) - middle / (spread * spread);
            if (slope > 0) low = middle;
            else high = middle;
        }

        var delta = (low + high) / 2;
        var information = risks.Sum(r => LogisticRegression.Probability(r.Logit + delta) is var p ? r.Trials * p * (1 - p) : 0)
            + 1 / (spread * spread);
        return (delta, information > 0 ? 1 / Math.Sqrt(information) : double.PositiveInfinity);
    }

    private static List<(int Trials, int Events, double Logit)> ByRisk(IReadOnlyList<DatedTrials> rows)
    {
        var risks = new List<(int Trials, int Events, double Logit)>();
        var known = new Dictionary<double, int>();
        foreach (var row in rows)
        {
            if (known.TryGetValue(row.Logit, out var at))
            {
                risks[at] = (risks[at].Trials + row.Trials, risks[at].Events + row.Events, row.Logit);
                continue;
            }

            known[row.Logit] = risks.Count;
            risks.Add((row.Trials, row.Events, row.Logit));
        }

        return risks;
    }

    private static double Surprise(double delta, double spread) => delta * delta / (2 * spread * spread);

    private static double Weight(in DatedTrials row, double risk, double delta, double odds) =>
        row.Events * delta - row.Trials * Math.Log(1 - risk + risk * odds);
}
