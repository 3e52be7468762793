using Registry.Rules.Statistics;

namespace Registry.Rules.Quality;

/// <summary>
/// Fits what the region lets expect of an infant: a logistic model of method × age band, intensive care and gestation for refers, of
/// rescreens as of first sessions, and of method and intensive care for the other measures. Main effects are hardly penalized (prior
/// standard deviation 2.5 on the logit), a combination of method and age more (0.5): with few infants it follows the main effects. The
/// intercept is free, so that the region's expected count is its observed one.
/// </summary>
/// <remarks>
/// The penalties are ours. Units far outside chance are left out of a second fit, so that a fault does not raise what is expected of
/// everybody; the region's rate is then that of the others.
/// </remarks>
public static class FitCaseMix
{
    private const double MainPenalty = 1 / (2.5 * 2.5), PairPenalty = 1 / (.5 * .5);

    /// <summary>Left out of the second fit: a tail smaller than this.</summary>
    private const double FarOutside = 1e-5;

    /// <param name="cells">Of the days it is to be fitted to.</param>
    /// <param name="measure">Whose probability.</param>
    /// <param name="policy">What is early.</param>
    /// <param name="version">Of the fit.</param>
    /// <returns>Null where nobody or everybody had the outcome.</returns>
    public static CaseMixModel? Of(IReadOnlyCollection<QualityCell> cells, SessionMeasure measure, Policy policy, int version)
    {
        if (Once(cells, measure, policy, version) is not { } first) return null;
        var outside = new HashSet<QualityUnit>();
        foreach (var kind in QualityUnit.Kinds)
            foreach (var (unit, count) in CountUnits.Of(cells, first, kind, policy))
                if (Math.Abs(count.Z) > 3.5 && Math.Min(PoissonBinomial.Upper(count.Risks, count.Observed),
                    PoissonBinomial.Lower(count.Risks, count.Observed)) < FarOutside) outside.Add(unit);
        if (outside.Count == 0) return first;
        QualityCell[] inside = [.. cells.Where(c => !QualityUnit.Kinds.Any(k => QualityUnit.Of(k, c) is { } u && outside.Contains(u)))];

        // Where most of the region is outside, the model is what is wrong.
        return inside.Length * 2 < cells.Count ? first : Once(inside, measure, policy, version) ?? first;
    }

    private static CaseMixModel? Once(IReadOnlyCollection<QualityCell> cells, SessionMeasure measure, Policy policy, int version)
    {
        var counts = new Dictionary<CaseMix, (long Trials, long Events)>();
        foreach (var cell in cells)
        {
            var (trials, events) = CountMeasure.In(cell, measure, policy);
            if (trials == 0) continue;
            var mix = CaseMix.Of(cell);
            var before = counts.GetValueOrDefault(mix);
            counts[mix] = (before.Trials + trials, before.Events + events);
        }

        var (all, with) = (counts.Values.Sum(c => c.Trials), counts.Values.Sum(c => c.Events));
        if (with == 0 || with == all) return null;
        var terms = Terms(counts, byAge: measure is SessionMeasure.Referred or SessionMeasure.RescreenReferred);
        var ridge = terms.Select((t, i) => i == 0 ? 0 : t is { Method: not null, Age: not null } ? PairPenalty : MainPenalty).ToArray();
        var fit = LogisticRegression.Fit(
            [.. counts.Select(c => new GroupedTrials(
                [.. terms.Select(t => t.AppliesTo(c.Key) ? 1.0 : 0)], c.Value.Trials, c.Value.Events))], ridge);
        return new(measure, version, cells.Min(c => c.Day), cells.Max(c => c.Day), all, with,
            [.. terms.Select((t, i) => t with { Estimate = fit.Coefficients[i], StandardError = fit.StandardErrors[i] })])
        {
            Reference = new(Levels(counts, m => m.Method)[0], Levels(counts, m => m.Age)[0], false, Levels(counts, m => m.Gestation)[0]),
        };
    }

    /// <summary>The intercept, then a coefficient per level that occurs beside the most frequent one, then per combination.</summary>
    private static List<CaseMixTerm> Terms(Dictionary<CaseMix, (long Trials, long Events)> counts, bool byAge)
    {
        var terms = new List<CaseMixTerm> { new(null, null, false, null) };
        terms.AddRange(Levels(counts, m => m.Method).Skip(1).Select(m => new CaseMixTerm(m, null, false, null)));
        if (counts.Keys.Any(m => m.Nicu)) terms.Add(new(null, null, true, null));
        if (!byAge) return terms;
        terms.AddRange(Levels(counts, m => m.Age).Skip(1).Select(a => new CaseMixTerm(null, a, false, null)));
        terms.AddRange(Levels(counts, m => m.Gestation).Skip(1).Select(g => new CaseMixTerm(null, null, false, g)));
        terms.AddRange(Levels(counts, m => (m.Method, m.Age)).Select(p => new CaseMixTerm(p.Method, p.Age, false, null)));
        return terms;
    }

    /// <summary>Those that occur, the most frequent first.</summary>
    private static List<T> Levels<T>(Dictionary<CaseMix, (long Trials, long Events)> counts, Func<CaseMix, T> of) where T : notnull =>
        [.. counts.GroupBy(c => of(c.Key)).OrderByDescending(g => g.Sum(c => c.Value.Trials)).ThenBy(g => g.Key).Select(g => g.Key)];
}
