using Registry.Rules.Statistics;

namespace Registry.Rules.Quality;

/// <summary>A unit beside its like over some days.</summary>
/// <param name="Unit">Which.</param>
/// <param name="Trials">Its infants at risk of the measure.</param>
/// <param name="Observed">Of them with the outcome.</param>
/// <param name="Expected">How many their case mix lets expect of the other units.</param>
/// <param name="Standardized">The region's rate times observed / expected: its rate with the region's infants; null without
/// expectation. The region's rate is a mere scale here, the same for all.</param>
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

/// <summary>The units of a kind beside each other in one measure.</summary>
/// <param name="Model">The case mix, and whose probability it states.</param>
/// <param name="Trials">Infants of all of them.</param>
/// <param name="Observed">Of them with the outcome.</param>
/// <param name="Spread">How much they differ beyond chance.</param>
/// <param name="Units">In the order of site and code.</param>
public sealed record ComparedKind(
    CaseMixModel Model, QualityUnitKind Kind, int Trials, int Observed, OddsSpread Spread, IReadOnlyList<UnitComparison> Units);

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

    /// <summary>What is compared: refers, and sessions without a valid result by reason. How early is tested is a site's decision, and
    /// rescreens are few.</summary>
    public static readonly IReadOnlyList<SessionMeasure> Measures =
        [SessionMeasure.Referred, SessionMeasure.NoSeal, SessionMeasure.Noise, SessionMeasure.OtherInvalid];

    /// <summary>1 where more than chance (false discovery rate of 5 %) and more than ordinary differences between units (additive z
    /// beyond 1.96) explain, −1 where fewer, else 0. Own choice.</summary>
    public static int Beyond(double adjustedP, double additive) => adjustedP <= .05 && Math.Abs(additive) > 1.96 ? Math.Sign(additive) : 0;

    /// <param name="cells">Of the days compared.</param>
    /// <param name="models">Case mix; a measure without a model is not compared.</param>
    /// <param name="policy">What is early.</param>
    /// <returns>Per measure and kind; the adjusted probabilities are over all of them.</returns>
    public static IReadOnlyList<ComparedKind> Of(IEnumerable<QualityCell> cells, IEnumerable<CaseMixModel> models, Policy policy)
    {
        var alike = DaysTogether(cells);
        List<ComparedKind> kinds = [.. models.Where(m => Measures.Contains(m.Measure)).OrderBy(m => m.Measure)
            .SelectMany(m => QualityUnit.Kinds.Select(k => Compare(m, k, CountUnits.Of(alike, m, k, policy))))];
        var adjusted = BenjaminiHochberg.Adjust([.. kinds.SelectMany(k => k.Units).Select(u => u.AdjustedP)]);
        var next = 0;
        return [.. kinds.Select(k => k with { Units = [.. k.Units.Select(u => u with { AdjustedP = adjusted[next++] })] })];
    }

    /// <summary>Cells that differ in day and hour alone as one: of a year they are many, of what they have in common few.</summary>
    private static IReadOnlyList<QualityCell> DaysTogether(IEnumerable<QualityCell> cells)
    {
        var sums = new Dictionary<(string, string?, string?, string?, CaseMix), (QualityCell First, int[] Counts)>();
        foreach (var cell in cells)
        {
            if (cell.Rescreens) continue;
            var key = (cell.Site, cell.Instrument, cell.Probe, cell.Screener, CaseMix.Of(cell));
            if (!sums.TryGetValue(key, out var sum)) sums[key] = sum = (cell, new int[6]);
            sum.Counts[0] += cell.Sessions;
            sum.Counts[1] += cell.Valid;
            sum.Counts[2] += cell.Referred;
            sum.Counts[3] += cell.NoSeal;
            sum.Counts[4] += cell.Noise;
            sum.Counts[5] += cell.OtherInvalid;
        }

        return [.. sums.Values.Select(s => s.First with
        {
            Sessions = s.Counts[0],
            Valid = s.Counts[1],
            Referred = s.Counts[2],
            NoSeal = s.Counts[3],
            Noise = s.Counts[4],
            OtherInvalid = s.Counts[5],
        })];
    }

    private static ComparedKind Compare(CaseMixModel model, QualityUnitKind kind, Dictionary<QualityUnit, UnitCount> counts)
    {
        var (observed, expected) = (counts.Values.Sum(c => c.Observed), counts.Values.Sum(c => c.Expected));
        var trials = counts.Values.Sum(c => c.Trials);
        var units = counts.OrderBy(c => c.Key.Site, StringComparer.Ordinal).ThenBy(c => c.Key.Code, StringComparer.Ordinal)
            .Select(c => (Unit: c.Key, Count: Scaled(c.Value, observed, expected))).ToArray();
        var spread = OddsSpread.Of(units.Select(u => (u.Count.Observed - u.Count.Expected, u.Count.Variance)));
        var theta = BetaBinomial.Spread([.. units.Select(u => Expecting(u.Count))]);
        var ranks = theta > 0 && units.Length is > 1 and <= MostRanked
            ? RankUncertainty.Of([.. units.Select(u => BetaBinomial.Posterior(Expecting(u.Count), theta))]) : null;
        return new(model, kind, trials, observed, spread, [.. units.Select((u, i) =>
        {
            var (count, expecting) = (u.Count, u.Count.Expected);
            var (excess, variance) = (count.Observed - expecting, count.Variance);
            var many = PoissonBinomial.UpperMidP(count.Risks, count.Observed);
            var few = 1 - many;
            return new UnitComparison(u.Unit, count.Trials, count.Observed, expecting,
                expecting > 0 ? Math.Min(1, (double)observed / trials * count.Observed / expecting) : null,
                many, few, Math.Clamp(2 * Math.Min(many, few), 0, 1),
                variance > 0 ? spread.Multiplicative(excess, variance) : 0,
                variance > 0 ? spread.Additive(excess, variance) : 0,
                BetaBinomial.Shrink(Expecting(count), theta, FarAbove)) { Rank = ranks?[i] };
        })]);
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
