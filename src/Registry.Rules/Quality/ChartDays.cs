using Registry.Rules.Statistics;

namespace Registry.Rules.Quality;

/// <summary>
/// The days of a unit as one of its charts meets them: its own infants' risks and volume. A Markov chain of the chart is taken through them
/// instead of simulating them: the same answer without its noise.
/// </summary>
internal sealed class ChartDays
{
    private const int SampledDays = 20, GridPoints = 64, MostRounds = 40, Windows = 8;
    private const double Lowest = 1.5, Highest = 14, MostRisk = .95;

    private readonly WatchChart _chart;
    private readonly List<(int Day, List<RiskedTrials> Trials)> _days = [];
    private readonly double _years;
    private readonly Lazy<CusumStep[][]> _sample;

    /// <param name="cells">Of the unit.</param>
    /// <param name="chart">Which.</param>
    /// <param name="model">Of its measure.</param>
    /// <param name="shift">Added to the logit expected.</param>
    /// <param name="policy">What is early.</param>
    /// <param name="days">How many since the unit was first used, those without sessions counted.</param>
    public ChartDays(IReadOnlyList<QualityCell> cells, WatchChart chart, CaseMixModel model, double shift, Policy policy, int days)
    {
        (_chart, _years) = (chart, days / 365.25);
        foreach (var day in cells.GroupBy(c => c.Day).OrderBy(d => d.Key))
        {
            var trials = day.GroupBy(c => CaseMix.Of(c), c => CountMeasure.In(c, chart.Measure, policy).Trials)
                .Select(m => new RiskedTrials(m.Sum(), LogisticRegression.Probability(model.Logit(m.Key) + shift)))
                .Where(t => t.Trials > 0).ToList();
            if (trials.Count > 0) _days.Add((day.Key.DayNumber, trials));
        }

        var stride = Math.Max(1, _days.Count / SampledDays);
        _sample = new(() => [.. _days.Where((_, i) => i % stride == 0).Select(d => Steps(d.Trials))]);
    }

    /// <summary>The value at which so many signals a year come by chance: their logarithm is nearly a straight line in it.</summary>
    public double Threshold(double perYear)
    {
        if (_days.Count == 0) return Highest;
        var (low, high) = ((At: 4.0, Rate: Rate(4)), (At: 7.0, Rate: Rate(7)));
        for (var i = 0; i < 2; i++)
        {
            if (low.Rate <= 0 || high.Rate <= 0) return low.At;
            var slope = (Math.Log(high.Rate) - Math.Log(low.Rate)) / (high.At - low.At);
            var at = Math.Clamp(low.At + (Math.Log(perYear) - Math.Log(low.Rate)) / slope, Lowest, Highest);
            if (i == 1) return at;
            var middle = (At: at, Rate: Rate(at));
            if (Math.Abs(at - low.At) < .01 || Math.Abs(at - high.At) < .01) return at;
            (low, high) = Math.Abs(at - low.At) < Math.Abs(at - high.At) ? (low, middle) : (high, middle);
        }

        return low.At;
    }

    /// <summary>Signals a year by chance that have to be allowed for it to be found in so many days that every infant's risk is multiplied
    /// by the ratio looked for; infinite where none are enough.</summary>
    public double Needed(double probability, int within)
    {
        var windows = Changed(within);
        if (windows.Count == 0 || Found(Lowest, windows) < probability) return double.PositiveInfinity;
        var (low, high) = (Lowest, Highest);
        for (var i = 0; i < 8; i++)
        {
            var middle = (low + high) / 2;
            if (Found(middle, windows) >= probability) low = middle;
            else high = middle;
        }

        return Rate(low);
    }

    /// <summary>Probability that a chart that has long run signals within some days of the change, wherever in the year it comes.</summary>
    private double Found(double threshold, IReadOnlyList<CusumStep[][]> windows) => windows.Average(window =>
    {
        var chain = new CusumRunLength(threshold, GridPoints);
        chain.StartRunning();
        foreach (var day in window) chain.Take(day);
        return 1 - chain.Running;
    });

    /// <summary>How the chart moves in some days after the risks have changed, from several days of the year on.</summary>
    private List<CusumStep[][]> Changed(int within)
    {
        var windows = new List<CusumStep[][]>();
        var (step, last) = (Math.Max(1, _days.Count / Windows), _days.Count > 0 ? _days[^1].Day + 1 - within : 0);
        for (var start = 0; start < _days.Count && _days[start].Day <= last; start += step)
        {
            var first = _days[start].Day;
            windows.Add([.. _days.Skip(start).TakeWhile(d => d.Day < first + within).Select(d => Steps(d.Trials, _chart.OddsRatio))]);
        }

        return windows;
    }

    /// <summary>How the chart moves on a day, and how likely.</summary>
    /// <param name="trials">Of the day.</param>
    /// <param name="times">What the risks are in truth, of those expected.</param>
    private CusumStep[] Steps(List<RiskedTrials> trials, double times = 1)
    {
        var all = trials.Sum(t => t.Trials);
        var truth = times == 1 ? trials : trials.ConvertAll(t => t with { Risk = Math.Min(MostRisk, times * t.Risk) });
        var mean = truth.Sum(t => t.Trials * t.Risk);
        var mass = PoissonBinomial.Below(truth, (int)Math.Min(all + 1, mean + 8 * Math.Sqrt(mean) + 8));
        var none = -trials.Sum(t => t.Trials * Math.Log(1 - t.Risk + _chart.OddsRatio * t.Risk));
        return [.. mass.Select((p, k) => new CusumStep(none + k * Math.Log(_chart.OddsRatio), p)).Where(s => s.Probability > 1e-7)];
    }

    /// <summary>Signals a year, once the chart has run so long that they no longer become more or fewer.</summary>
    private double Rate(double threshold)
    {
        var chain = new CusumRunLength(threshold, GridPoints);
        chain.StartRunning();
        var (before, rate) = (0.0, 0.0);
        for (var round = 0; round < MostRounds; round++)
        {
            foreach (var day in _sample.Value) chain.Take(day);
            if (chain.Running <= 1e-200) return _days.Count / _years;
            rate = -Math.Log(chain.Running) / _sample.Value.Length;
            if (Math.Abs(rate - before) < .05 * rate) break;
            before = rate;
            chain.Renew();
        }

        return rate * _days.Count / _years;
    }
}
