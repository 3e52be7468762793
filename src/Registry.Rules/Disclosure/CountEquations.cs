namespace Registry.Rules.Disclosure;

/// <summary>
/// Counts tied together by equations "total = sum of parts", some hidden. A small count is safe when another table exists that
/// satisfies every equation, shows the same where counts are shown, keeps hidden counts above zero, and has another value
/// there. Such a table is looked for by moving that count by a little and balancing the equations it unbalances, first with hidden
/// counts alone, then with ever more shown ones, which are then hidden. A table once found stays one when more is hidden.
/// </summary>
internal sealed class CountEquations(int threshold)
{
    /// <summary>Steps after which a search is given up, which hides more than needed but never less.</summary>
    private const int Patience = 250;

    /// <summary>What hiding a spared count costs, where another costs 1.</summary>
    private const int SparedCost = 6;

    private static readonly int[] Costs = [0, 1, 2, 3, 4, 6, 8, 12, 24];

    private static readonly int[] Moves = [1, -1, 2, -2];

    private readonly List<Cell> _cells = [];
    private readonly List<(int Total, int[] Parts)> _equations = [];
    private readonly List<List<int>> _equationsOf = [];

    private struct Cell
    {
        public int Value;
        public bool Hidden;

        /// <summary>Computable by a reader but printed nowhere; it can be neither shown nor hidden.</summary>
        public bool Unshown;
        public bool Spared;
    }

    public int Add(int value) => Append(new() { Value = value, Hidden = SmallCounts.IsSmall(value, threshold) });

    /// <summary>A difference of two counts: sensitive like any other when it is small.</summary>
    public int AddUnshown(int value) => Append(new() { Value = value, Hidden = true, Unshown = true });

    public int Value(int cell) => _cells[cell].Value;

    public bool IsHidden(int cell) => _cells[cell].Hidden;

    /// <summary>The counts so far are hidden further only when nothing else is left to hide.</summary>
    public void SpareAll()
    {
        for (var k = 0; k < _cells.Count; k++) _cells[k] = _cells[k] with { Spared = true };
    }

    public void Equate(int total, int[] parts)
    {
        foreach (var cell in parts.Append(total)) _equationsOf[cell].Add(_equations.Count);
        _equations.Add((total, parts));
    }

    /// <summary>Hides further counts until every small one is safe.</summary>
    public void Protect()
    {
        var search = new Search(this);
        for (var k = 0; k < _cells.Count; k++)
        {
            if (!SmallCounts.IsSmall(_cells[k].Value, threshold)) continue;
            IReadOnlyCollection<int>? moved = null;
            foreach (var cost in Costs) moved ??= search.OtherTable(k, cost);

            // Not found: everything within two equations is hidden.
            foreach (var cell in moved ?? Near(k))
                if (_cells[cell].Value > 0) _cells[cell] = _cells[cell] with { Hidden = true };
        }
    }

    private int Append(Cell cell)
    {
        _cells.Add(cell);
        _equationsOf.Add([]);
        return _cells.Count - 1;
    }

    private HashSet<int> Near(int cell)
    {
        var near = new HashSet<int> { cell };
        for (var round = 0; round < 2; round++)
        {
            var equations = near.SelectMany(c => _equationsOf[c]).Distinct();
            near.UnionWith(equations.SelectMany(e => _equations[e].Parts.Append(_equations[e].Total)).ToList());
        }

        return near;
    }

    /// <summary>Depth-first: the unbalanced equation with the fewest counts left to move is balanced first.</summary>
    private sealed class Search(CountEquations all)
    {
        private readonly Dictionary<int, int> _moved = [];
        private readonly Dictionary<int, int> _off = [];
        private int _steps;
        private int _budget;

        /// <summary>The counts moved in another table, at most <paramref name="cost"/> worth of them shown; or null.</summary>
        public IReadOnlyCollection<int>? OtherTable(int cell, int cost)
        {
            foreach (var by in Moves)
            {
                _moved.Clear();
                _off.Clear();
                (_steps, _budget) = (0, cost);
                if (!MayMove(cell, by)) continue;
                Move(cell, by);
                if (Balance()) return [.. _moved.Keys];
            }

            return null;
        }

        private bool Balance()
        {
            if (++_steps > Patience) return false;
            var (equation, open) = (-1, int.MaxValue);
            foreach (var (e, off) in _off)
            {
                if (off == 0) continue;
                var left = all._equations[e].Parts.Count(IsOpen) + (IsOpen(all._equations[e].Total) ? 1 : 0);
                if (left == 0) return false;
                if (left < open || (left == open && e < equation)) (equation, open) = (e, left);
            }

            if (equation < 0) return true;
            var by = _off[equation];
            var (total, parts) = all._equations[equation];

            // What costs nothing first, then what unbalances the fewest further equations, then what has the most room.
            var candidates = parts.Append(total).Where(IsOpen)
                .OrderBy(Cost).ThenBy(c => all._equationsOf[c].Count).ThenByDescending(c => all._cells[c].Value).ToList();
            foreach (var cell in candidates)
            {
                var step = cell == total ? by : -by;
                if (!MayMove(cell, step)) continue;
                var cost = Cost(cell);
                _budget -= cost;
                Move(cell, step);
                if (Balance()) return true;
                Move(cell, -step);
                _moved.Remove(cell);
                _budget += cost;
            }

            return false;
        }

        private int Cost(int cell) => all._cells[cell].Hidden ? 0 : all._cells[cell].Spared ? SparedCost : 1;

        /// <summary>A shown zero stays; a shown count moves at a cost.</summary>
        private bool IsOpen(int cell) =>
            (all._cells[cell].Hidden || all._cells[cell].Value > 0) && Cost(cell) <= _budget && !_moved.ContainsKey(cell);

        /// <summary>A hidden count is known to be at least 1, a difference at least 0.</summary>
        private bool MayMove(int cell, int by) => all._cells[cell].Value + by >= (all._cells[cell].Unshown ? 0 : 1);

        private void Move(int cell, int by)
        {
            _moved[cell] = by;
            foreach (var e in all._equationsOf[cell])
                _off[e] = _off.GetValueOrDefault(e) + (all._equations[e].Total == cell ? -by : by);
        }
    }
}
