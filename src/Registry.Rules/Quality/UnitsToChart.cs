namespace Registry.Rules.Quality;

/// <summary>
/// The units of some cells with their cells. One that is the same sessions as a larger one, as the only probe of an instrument or the only
/// screener of a practice, is left out: nothing could tell them apart, and asking twice doubles the false answers.
/// </summary>
public static class UnitsToChart
{
    /// <param name="cells">In any order.</param>
    public static IReadOnlyDictionary<QualityUnit, IReadOnlyList<QualityCell>> Of(IEnumerable<QualityCell> cells)
    {
        var units = new Dictionary<QualityUnit, List<QualityCell>>();
        foreach (var cell in cells)
            foreach (var kind in QualityUnit.Kinds)
            {
                if (QualityUnit.Of(kind, cell) is not { } unit) continue;
                if (!units.TryGetValue(unit, out var list)) units[unit] = list = [];
                list.Add(cell);
            }

        return units.Where(u => !SameAsLarger(u.Key, u.Value, units)).ToDictionary(u => u.Key, u => (IReadOnlyList<QualityCell>)u.Value);
    }

    private static bool SameAsLarger(QualityUnit unit, List<QualityCell> cells, Dictionary<QualityUnit, List<QualityCell>> units) =>
        QualityUnit.Kinds.TakeWhile(k => k != unit.Kind).Any(larger =>
            QualityUnit.Of(larger, cells[0]) is { } other && units[other].Count == cells.Count
            && cells.TrueForAll(c => QualityUnit.Of(larger, c) == other));
}
