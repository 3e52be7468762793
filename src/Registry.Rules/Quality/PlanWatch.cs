using Registry.Rules.Statistics;

namespace Registry.Rules.Quality;

/// <summary>
/// Fits the case mix, measures how much ordinary units differ, and sets each unit's thresholds from its own infants and volume, so that
/// all charts of the region together raise no more false flags a year than the policy allows.
/// </summary>
/// <remarks>
/// The false flags are shared between kinds of unit (<see cref="WatchChart.ShareOf"/>), within a kind by <see cref="WatchChart.Share"/> and
/// between its units alike, but for too many refers at sites (<see cref="ShareSignals"/>).
/// A unit's own days of the reference, as many infants with such risks, are walked through a
/// Markov chain of the chart instead of being simulated: the same answer without its noise. One that came during these days is taken to be
/// as busy all year as it was since. A unit that is the same sessions as a larger one is charted once.
/// </remarks>
public static class PlanWatch
{
    /// <summary>Charts of the same infants signal together, and a problem already raised explains its shadows: so many times as many
    /// signals as flags. Found on region-years without a fault, then measured on others (docs/site-quality.md). An
    /// instrument or a probe is explained by its site most often.</summary>
    private static double Together(QualityUnitKind kind) => kind switch
    {
        QualityUnitKind.Site => 1.25,
        QualityUnitKind.Instrument => 1.35,
        QualityUnitKind.Probe => 1.4,
        _ => 1.8,
    };

    /// <summary>More false flags a year than this are given to no unit on average, however few share the region's. Own choice.</summary>
    private const double MostAUnit = .5;

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
        var units = UnitsToChart.Of(cells);
        var last = cells.Count == 0 ? default : cells.Max(c => c.Day);
        var days = units.ToDictionary(u => u.Key, u => last.DayNumber - u.Value.Min(c => c.Day).DayNumber + 1);
        foreach (var kind in units.GroupBy(u => u.Key.Kind))
        {
            var perUnit = Together(kind.Key)
                * Math.Min(MostAUnit, policy.FalseFlagsPerYear * WatchChart.ShareOf(kind.Key) / kind.Count());
            var refers = kind.ToDictionary(u => u.Key, u => Refers(u.Value) * 30 / days[u.Key]);
            var signals = kind.Key == QualityUnitKind.Site ? OfTooManyRefers(perUnit * kind.Count()) : [];
            foreach (var unit in kind.Select(u => u.Key))
                result[unit] = [.. WatchChart.All.Select(c =>
                    c.Share(kind.Key, refers[unit]) is > 0 and var share && Chart(unit, c) is { } chart
                    ? chart.Threshold(share * (c.AsksTooManyRefers ? signals.GetValueOrDefault(unit, perUnit) : perUnit)) : double.NaN)];

            // Of each site; its charts have their share of them.
            Dictionary<QualityUnit, double> OfTooManyRefers(double perYear)
            {
                var doubling = WatchChart.All[0];
                QualityUnit[] sites = [.. kind.Select(u => u.Key)];
                var needed = sites.Select(s => refers[s] < WatchChart.ManyRefers ? double.PositiveInfinity
                    : Chart(s, doubling)!.Needed(ShareSignals.Wanted, ShareSignals.WithinDays) / doubling.Share(kind.Key, refers[s]));
                return sites.Zip(ShareSignals.Among(
                    [.. needed], [.. sites.Select(s => Math.Sqrt(refers[s]))], perYear)).ToDictionary(s => s.First, s => s.Second);
            }
        }

        return result;

        ChartDays? Chart(QualityUnit unit, WatchChart chart) => plan.Models.TryGetValue(chart.Measure, out var model)
            ? new(units[unit], chart, model, plan.Shift(unit.Kind, chart), policy, days[unit]) : null;

        double Refers(IEnumerable<QualityCell> own) => plan.Models.TryGetValue(SessionMeasure.Referred, out var model)
            ? own.Sum(c => CountMeasure.In(c, SessionMeasure.Referred, policy).Trials * model.Risk(CaseMix.Of(c))) : 0;
    }
}
