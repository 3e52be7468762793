using Registry.Rules.Disclosure;
using Registry.Rules.Measures;

namespace Registry.Rules.Tests.Disclosure;

/// <summary>Everything a reader of a released table knows, and a search for other tables that would look the same.</summary>
internal sealed class StrangersKnowledge
{
    private const int SearchLimit = 200_000;

    private readonly List<int> _truth = [];
    private readonly List<string> _names = [];
    private readonly List<bool> _known = [];
    private readonly List<int> _least = [];
    private readonly List<(int Total, int[] Parts)> _equations = [];
    private int _steps;

    public StrangersKnowledge(IReadOnlyList<MeasureTable> tables, HiddenCounts hidden) : this(tables, hidden.Contains)
    {
    }

    public StrangersKnowledge(IReadOnlyList<MeasureTable> tables, Func<Breakdown, string, string, bool> isHidden)
    {
        var set = tables[0].Set;
        var whole = Row(Breakdown.None, tables[0].Whole);
        foreach (var table in tables.Where(t => t.Groups.Count > 0))
        {
            var rows = table.Groups.Select(g => Row(table.Breakdown, g)).ToList();
            foreach (var line in set.ShownByGroup) _equations.Add((whole[line], [.. rows.Select(r => r[line])]));
        }

        Dictionary<string, int> Row(Breakdown breakdown, GroupCounts group)
        {
            var cells = set.Lines.Where(l => breakdown == Breakdown.None || set.ShownByGroup.Contains(l.Code))
                .ToDictionary(l => l.Code,
                    l => Add($"{group.Name} {l.Code}", tables[0].Count(group, l.Code), !isHidden(breakdown, group.Name, l.Code), 1));
            foreach (var sum in set.Sums.Where(s => s.Parts.Append(s.Total).All(cells.ContainsKey)))
                _equations.Add((cells[sum.Total], [.. sum.Parts.Select(p => cells[p])]));
            foreach (var r in set.Ratios.Where(r => cells.ContainsKey(r.Numerator) && cells.ContainsKey(r.Denominator)))
            {
                var rest = Add($"{group.Name} not {r.Code}", tables[0].Count(group, r.Denominator) - tables[0].Count(group, r.Numerator),
                    false, 0);
                _equations.Add((cells[r.Denominator], [cells[r.Numerator], rest]));
            }

            return cells;
        }
    }

    /// <summary>Counts of 1 to 9, printed or only computable.</summary>
    public IEnumerable<int> SmallCounts => Enumerable.Range(0, _truth.Count).Where(k => _truth[k] is > 0 and < 10);

    public string Name(int cell) => $"{_names[cell]} = {_truth[cell]}";

    /// <summary>Whether some table that agrees with everything shown has another value in this cell. A yes is a proof: the
    /// other table was found.</summary>
    public bool CouldBeAnother(int cell) => !_known[cell] && new[] { 1, -1, 2, -2, 3, -3 }.Any(by =>
    {
        if (_truth[cell] + by < _least[cell]) return false;
        var moved = Enumerable.Range(0, _truth.Count).Select(k => _known[k] ? 0 : (int?)null).ToArray();
        moved[cell] = by;
        _steps = 0;
        return Balance(moved);
    });

    private int Add(string name, int value, bool known, int least)
    {
        _truth.Add(value);
        _names.Add(name);
        _known.Add(known);
        _least.Add(least);
        return _truth.Count - 1;
    }

    /// <summary>Moves further cells until every equation holds again; cells no equation asks to move stay.</summary>
    private bool Balance(int?[] moved)
    {
        if (++_steps > SearchLimit) return false;
        (int Off, List<int> Open)? worst = null;
        foreach (var (total, parts) in _equations)
        {
            var off = parts.Sum(p => moved[p] ?? 0) - (moved[total] ?? 0);
            if (off == 0) continue;
            var open = parts.Append(total).Where(c => moved[c] is null).ToList();
            if (open.Count == 0) return false;
            if (worst is not { } w || open.Count < w.Open.Count) worst = (off, open);
        }

        if (worst is not { } next) return true;
        foreach (var cell in next.Open)
        {
            foreach (var step in new[] { next.Off, -next.Off })
            {
                if (_truth[cell] + step < _least[cell]) continue;
                var branch = (int?[])moved.Clone();
                branch[cell] = step;
                if (Balance(branch)) return true;
            }
        }

        return false;
    }
}
