namespace Registry.Rules.Quality;

/// <summary>
/// Cells of one site by who and what was used: an instrument, a probe and a screener are a group, of which a site has some dozens, so that
/// what concerns units is looked up once for each instead of once for each of many thousand cells.
/// </summary>
internal sealed class UnitGroups
{
    private readonly int[] _groups;
    private readonly List<QualityUnit[]> _units = [];

    public UnitGroups(IReadOnlyList<QualityCell> cells)
    {
        _groups = new int[cells.Count];
        var known = new Dictionary<(string?, string?, string?), int>();
        for (var i = 0; i < cells.Count; i++)
        {
            var cell = cells[i];
            var key = (cell.Instrument, cell.Probe, cell.Screener);
            if (!known.TryGetValue(key, out var group))
            {
                known[key] = group = _units.Count;
                _units.Add([.. QualityUnit.Kinds.Select(k => QualityUnit.Of(k, cell)).OfType<QualityUnit>()]);
            }

            _groups[i] = group;
        }
    }

    public int Count => _units.Count;

    /// <summary>The group of a cell, by its place.</summary>
    public int Of(int cell) => _groups[cell];

    /// <summary>The units of a group.</summary>
    public IReadOnlyList<QualityUnit> Units(int group) => _units[group];

    /// <summary>Units that are not the same sessions as a larger one (<see cref="UnitsToChart"/>).</summary>
    public IEnumerable<QualityUnit> Apart()
    {
        var groups = _units.SelectMany((units, group) => units.Select(u => (Unit: u, Group: group)))
            .GroupBy(u => u.Unit, u => u.Group).ToDictionary(u => u.Key, u => u.ToHashSet());
        return groups.Keys.Where(u => !groups.Any(o => o.Key.Kind < u.Kind && o.Value.SetEquals(groups[u])));
    }
}
