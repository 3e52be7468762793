using Registry.Rules.Statistics;

namespace Registry.Rules.Quality;

/// <summary>A unit's count of a measure beside what its case mix lets expect.</summary>
/// <param name="Trials">Infants at risk of it.</param>
/// <param name="Observed">Of them with the outcome.</param>
/// <param name="Risks">How many of them at which expected risk.</param>
public sealed record UnitCount(int Trials, int Observed, IReadOnlyList<RiskedTrials> Risks)
{
    /// <summary>Expected count.</summary>
    public double Expected => Risks.Sum(r => r.Trials * r.Risk);

    /// <summary>Variance of the count by chance alone.</summary>
    public double Variance => Risks.Sum(r => r.Trials * r.Risk * (1 - r.Risk));

    /// <summary>Distance from what is expected, in standard errors of chance.</summary>
    public double Z => Variance > 0 ? (Observed - Expected) / Math.Sqrt(Variance) : 0;
}

/// <summary>Adds cells up by unit.</summary>
public static class CountUnits
{
    public static Dictionary<QualityUnit, UnitCount> Of(
        IEnumerable<QualityCell> cells, CaseMixModel model, QualityUnitKind kind, Policy policy)
    {
        var counts = new Dictionary<QualityUnit, (int Trials, int Events, Dictionary<double, int> Risks)>();
        foreach (var cell in cells)
        {
            var (trials, events) = CountMeasure.In(cell, model.Measure, policy);
            if (trials == 0 || QualityUnit.Of(kind, cell) is not { } unit) continue;
            var before = counts.TryGetValue(unit, out var found) ? found : (0, 0, []);
            var risk = model.Risk(CaseMix.Of(cell));
            before.Risks[risk] = before.Risks.GetValueOrDefault(risk) + trials;
            counts[unit] = (before.Trials + trials, before.Events + events, before.Risks);
        }

        return counts.ToDictionary(c => c.Key, c => new UnitCount(
            c.Value.Trials, c.Value.Events, [.. c.Value.Risks.OrderBy(r => r.Key).Select(r => new RiskedTrials(r.Value, r.Key))]));
    }
}
