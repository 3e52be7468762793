using Registry.Rules.Statistics;

namespace Registry.Rules.Quality;

/// <summary>
/// Fits the case mix, measures how much ordinary units differ, and sets each unit's thresholds from its own infants and volume, so that
/// all charts of the region together raise no more false flags a year than the policy allows.
/// </summary>
/// <remarks>
/// The false flags are shared between kinds of unit (<see cref="WatchChart.ShareOf"/>), within a kind by <see cref="WatchChart.Share"/> and
/// between its units by <see cref="WatchChart.Weight"/>.
/// A unit's own days of the reference, as many infants with such risks, are walked through a
/// Markov chain of the chart instead of being simulated: the same answer without its noise. A unit that is the same
/// sessions as a larger one is charted once.
/// </remarks>
public static class PlanWatch
{
    /// <summary>Charts of the same infants signal together, and a problem already raised explains its shadows: so many times as many
    /// signals as flags. Found on region-years without a fault, then measured on others (docs/site-quality.md). An
    /// instrument or a probe is explained by its site most often.</summary>
    private static double Together(QualityUnitKind kind) => kind switch
    {
        QualityUnitKind.Site => 2,
        QualityUnitKind.Instrument => 2.1,
        QualityUnitKind.Probe => 2,
        _ => 1.7,
    };

    /// <summary>More false flags a year than this are given to no unit on average, however few share the region's. Own choice.</summary>
    private const double MostAUnit = .5;

    private const int SampledDays = 20, GridPoints = 64, MostRounds = 40;

    /// <param name="reference">Cells of the year before, or of as much as there is.</param>
    /// <param name="policy">False flags a year; what is early.</param>
    /// <param name="version">Of the fit.</param>
    /// <param name="recent">Cells of later days, which say what units there are and how many infants they have; null: the
    /// reference does.</param>
    public static WatchPlan From(
        IReadOnlyCollection<QualityCell> reference, Policy policy, int version, IReadOnlyCollection<QualityCell>? recent = null)
    {
        var models = CountMeasure.All.Select(m => FitCaseMix.Of(reference, m, policy, version)).OfType<CaseMixModel>()
            .ToDictionary(m => m.Measure);
        var tolerance = new Dictionary<(QualityUnitKind, SessionMeasure), double>();
        foreach (var model in models.Values)
            foreach (var kind in QualityUnit.Kinds)
                tolerance[(kind, model.Measure)] = Math.Sqrt(OddsSpread.Of(CountUnits.Of(reference, model, kind, policy).Values
                    .Select(c => (c.Observed - c.Expected, c.Variance))).TauSquared);
        var plan = new WatchPlan(models, tolerance, new Dictionary<QualityUnit, IReadOnlyList<double>>());
        return new(models, tolerance, Thresholds(recent ?? reference, plan, policy));
    }

    private static Dictionary<QualityUnit, IReadOnlyList<double>> Thresholds(
        IReadOnlyCollection<QualityCell> cells, WatchPlan plan, Policy policy)
    {
        var result = new Dictionary<QualityUnit, IReadOnlyList<double>>();
        var days = cells.Count == 0 ? 1 : cells.Max(c => c.Day).DayNumber - cells.Min(c => c.Day).DayNumber + 1;
        var units = UnitsToChart.Of(cells);
        foreach (var kind in units.GroupBy(u => u.Key.Kind))
        {
            var perUnit = Together(kind.Key)
                * Math.Min(MostAUnit, policy.FalseFlagsPerYear * WatchChart.ShareOf(kind.Key) / kind.Count());
            var infants = kind.ToDictionary(u => u.Key, u => u.Value.Sum(c => c.Rescreens ? 0 : c.Sessions));
            double[] mean = [.. WatchChart.All.Select(c => infants.Values.Average(i => c.Weight(kind.Key, i)))];
            foreach (var (unit, own) in kind)
            {
                var refers = plan.Models.TryGetValue(SessionMeasure.Referred, out var refer)
                    ? own.Sum(c => CountMeasure.In(c, SessionMeasure.Referred, policy).Trials * refer.Risk(CaseMix.Of(c))) * 30 / days : 0;
                result[unit] = [.. WatchChart.All.Select((c, i) =>
                    plan.Models.TryGetValue(c.Measure, out var model)
                        && c.Share(kind.Key, refers) * c.Weight(kind.Key, infants[unit]) / mean[i] is > 0 and var share
                        ? Threshold(DaysOf(own, c, model, plan.Shift(kind.Key, c), policy), days / 365.25, perUnit * share)
                        : double.NaN)];
            }
        }

        return result;
    }

    /// <summary>Per day with sessions: how the chart moves, and how likely.</summary>
    private static List<CusumStep[]> DaysOf(
        IReadOnlyList<QualityCell> cells, WatchChart chart, CaseMixModel model, double shift, Policy policy)
    {
        var days = new List<CusumStep[]>();
        foreach (var day in cells.GroupBy(c => c.Day).OrderBy(d => d.Key))
        {
            var trials = new List<RiskedTrials>();
            foreach (var cell in day)
                if (CountMeasure.In(cell, chart.Measure, policy).Trials is > 0 and var n)
                    trials.Add(new(n, LogisticRegression.Probability(model.Logit(CaseMix.Of(cell)) + shift)));
            if (trials.Count > 0) days.Add(Steps(trials, chart.OddsRatio));
        }

        return days;
    }

    private static CusumStep[] Steps(List<RiskedTrials> trials, double oddsRatio)
    {
        var all = trials.Sum(t => t.Trials);
        var mean = trials.Sum(t => t.Trials * t.Risk);
        var mass = PoissonBinomial.Below(trials, (int)Math.Min(all + 1, mean + 8 * Math.Sqrt(mean) + 8));
        var none = -trials.Sum(t => t.Trials * Math.Log(1 - t.Risk + oddsRatio * t.Risk));
        return [.. mass.Select((p, k) => new CusumStep(none + k * Math.Log(oddsRatio), p)).Where(s => s.Probability > 1e-7)];
    }

    /// <summary>The value at which so many signals a year come by chance: their logarithm is nearly a straight line in it.</summary>
    private static double Threshold(List<CusumStep[]> days, double years, double perYear)
    {
        const double lowest = 1.5, highest = 14;
        if (days.Count == 0) return highest;
        var stride = Math.Max(1, days.Count / SampledDays);
        CusumStep[][] sample = [.. days.Where((_, i) => i % stride == 0)];
        var daysPerYear = days.Count / years;
        var (low, high) = ((At: 4.0, Rate: Rate(sample, 4)), (At: 7.0, Rate: Rate(sample, 7)));
        for (var i = 0; i < 2; i++)
        {
            if (low.Rate <= 0 || high.Rate <= 0) return low.At;
            var slope = (Math.Log(high.Rate) - Math.Log(low.Rate)) / (high.At - low.At);
            var at = Math.Clamp(low.At + (Math.Log(perYear / daysPerYear) - Math.Log(low.Rate)) / slope, lowest, highest);
            if (i == 1) return at;
            var middle = (At: at, Rate: Rate(sample, at));
            if (Math.Abs(at - low.At) < .01 || Math.Abs(at - high.At) < .01) return at;
            (low, high) = Math.Abs(at - low.At) < Math.Abs(at - high.At) ? (low, middle) : (high, middle);
        }

        return low.At;
    }

    /// <summary>Signals per day with sessions, once the chart has run so long that they no longer become more or fewer.</summary>
    private static double Rate(CusumStep[][] sample, double threshold)
    {
        var chain = new CusumRunLength(threshold, GridPoints);
        chain.StartRunning();
        var (before, rate) = (0.0, 0.0);
        for (var round = 0; round < MostRounds; round++)
        {
            foreach (var day in sample) chain.Take(day);
            if (chain.Running <= 1e-200) return 1;
            rate = -Math.Log(chain.Running) / sample.Length;
            if (Math.Abs(rate - before) < .05 * rate) break;
            before = rate;
            chain.Renew();
        }

        return rate;
    }
}
