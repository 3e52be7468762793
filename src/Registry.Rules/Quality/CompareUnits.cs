using Registry.Rules.Statistics;

namespace Registry.Rules.Quality;

/// <summary>A unit beside its like over some days.</summary>
/// <param name="Unit">Which.</param>
/// <param name="Trials">Its infants at risk of the measure.</param>
/// <param name="Observed">Of them with the outcome.</param>
/// <param name="Expected">How many their case mix lets expect of the other units.</param>
/// <param name="Standardized">The region's rate times observed / expected: its rate with the region's infants; null without
/// expectation.</param>
/// <param name="TooMany">Exact mid-P probability of so many or more by chance.</param>
/// <param name="TooFew">The same of so few or fewer.</param>
/// <param name="AdjustedP">Two-sided, adjusted over everything compared (Benjamini and Hochberg).</param>
/// <param name="Multiplicative">z with chance widened by √φ.</param>
/// <param name="Additive">z with variance between units added.</param>
/// <param name="Shrunken">What is believed of its true rate, drawn to the expected one the more the fewer its infants.</param>
public sealed record UnitComparison(
    QualityUnit Unit, int Trials, int Observed, double Expected, double? Standardized, double TooMany, double TooFew, double AdjustedP,
    double Multiplicative, double Additive, ShrunkenRate Shrunken)
{
    /// <summary>Observed / expected; null where nothing is expected.</summary>
    public double? Ratio => Expected > 0 ? Observed / Expected : null;

    /// <summary>Places among its like, 1 the highest rate; null where there are too many to rank
    /// (<see cref="CompareUnits.MostRanked"/>) or they do not differ.</summary>
    public RankRange? Rank { get; init; }
}

/// <summary>
/// Compares the units of a kind, each with all the others: expected counts by indirect standardization from the case-mix model, scaled to
/// the ratio of observed to expected of the units other than itself (a pool that holds it would hide it), the tail exact rather than the
/// interpolated funnel limit, over-dispersion in both forms (Spiegelhalter, Stat Med 2005;24:1185), the false discovery rate
/// controlled over everything compared.
/// </summary>
/// <remarks>A picture of some days: it raises no flag. Looking at it every night is not part of its probabilities; what is raised
/// nightly comes from <see cref="WatchRegion"/>, whose error counts every night.</remarks>
public static class CompareUnits
{
    /// <summary>Times the expected rate beyond which a rate is far above. Own choice.</summary>
    public const double FarAbove = 1.5;

    /// <summary>More units than this are not ranked: nobody reads it, and it takes long.</summary>
    public const int MostRanked = 60;

    /// <param name="cells">Of the days compared.</param>
    /// <param name="models">Case mix; a measure without a model is not compared.</param>
    /// <param name="policy">What is early.</param>
    /// <returns>Per measure and kind, in the order of the unit's code; the adjusted probabilities are over all of them.</returns>
    public static IReadOnlyDictionary<(SessionMeasure Measure, QualityUnitKind Kind), IReadOnlyList<UnitComparison>> Of(
        IReadOnlyCollection<QualityCell> cells, IEnumerable<CaseMixModel> models, Policy policy)
    {
        var groups = new Dictionary<(SessionMeasure, QualityUnitKind), UnitComparison[]>();
        foreach (var model in models)
            foreach (var kind in QualityUnit.Kinds)
                groups[(model.Measure, kind)] = Compare(CountUnits.Of(cells, model, kind, policy));
        var adjusted = BenjaminiHochberg.Adjust([.. groups.Values.SelectMany(g => g).Select(c => c.AdjustedP)]);
        var next = 0;
        return groups.ToDictionary(
            g => g.Key, g => (IReadOnlyList<UnitComparison>)[.. g.Value.Select(c => c with { AdjustedP = adjusted[next++] })]);
    }

    private static UnitComparison[] Compare(Dictionary<QualityUnit, UnitCount> counts)
    {
        var (observed, expected) = (counts.Values.Sum(c => c.Observed), counts.Values.Sum(c => c.Expected));
        var trials = counts.Values.Sum(c => c.Trials);
        var units = counts.OrderBy(c => c.Key.Site, StringComparer.Ordinal).ThenBy(c => c.Key.Code, StringComparer.Ordinal)
            .Select(c => (Unit: c.Key, Count: Scaled(c.Value, observed, expected))).ToArray();
        var spread = OddsSpread.Of(units.Select(u => (u.Count.Observed - u.Count.Expected, u.Count.Variance)));
        var theta = BetaBinomial.Spread([.. units.Select(u => Expecting(u.Count))]);
        var ranks = theta > 0 && units.Length is > 1 and <= MostRanked
            ? RankUncertainty.Of([.. units.Select(u => BetaBinomial.Posterior(Expecting(u.Count), theta))]) : null;
        return [.. units.Select((u, i) =>
        {
            var (count, excess) = (u.Count, u.Count.Observed - u.Count.Expected);
            var many = PoissonBinomial.UpperMidP(count.Risks, count.Observed);
            var few = 1 - many;
            return new UnitComparison(u.Unit, count.Trials, count.Observed, count.Expected,
                count.Expected > 0 ? Math.Min(1, (double)observed / trials * count.Observed / count.Expected) : null,
                many, few, Math.Clamp(2 * Math.Min(many, few), 0, 1),
                count.Variance > 0 ? spread.Multiplicative(excess, count.Variance) : 0,
                count.Variance > 0 ? spread.Additive(excess, count.Variance) : 0,
                BetaBinomial.Shrink(Expecting(count), theta, FarAbove)) { Rank = ranks?[i] };
        })];
    }

    /// <summary>Odds of every expected risk multiplied by what the other units have observed over their expectation.</summary>
    private static UnitCount Scaled(UnitCount unit, int observed, double expected)
    {
        var (others, theirs) = (observed - unit.Observed, expected - unit.Expected);
        if (theirs < 1 || others == 0) return unit;
        var ratio = others / theirs;
        return unit with { Risks = [.. unit.Risks.Select(r => r with { Risk = ratio * r.Risk / (1 - r.Risk + ratio * r.Risk) })] };
    }

    private static ExpectedCount Expecting(UnitCount count) =>
        new(new(count.Observed, count.Trials), Math.Clamp(count.Expected / count.Trials, 1e-6, 1 - 1e-6));
}
