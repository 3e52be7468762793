namespace Registry.Rules.Disclosure;

/// <summary>
/// Counts tied together by equations "total = sum of parts", some hidden. A small count is safe when other tables exist that satisfy
/// every equation, show the same where counts are shown, and have there a value larger by the protection interval, and one smaller by it
/// (as far as it can be at all). Such tables are looked for one infant at a time: the count moves by one and the equations it
/// unbalances are balanced, first with hidden counts alone, then with ever more shown ones, which are then hidden. A
/// table once found stays one when more is hidden.
/// </summary>
internal sealed class CountEquations(int threshold, int protection)
{
    /// <summary>Steps after which a search is given up, which hides more than needed but never less.</summary>
    private const int Patience = 500;

    private static readonly int[] Costs = [0, 1, 2, 4, 8, 16];

    private readonly List<Cell> _cells = [];
    private readonly List<(int Total, int[] Parts)> _equations = [];
    private readonly List<List<int>> _equationsOf = [];

    private struct Cell
    {
        public int Value;
        public bool Hidden;

        public int Least;
        public int Most;

        /// <summary>The same in every other table.</summary>
        public bool Fixed;
        public int Cost;
    }

    /// <param name="value">The count.</param>
    /// <param name="most">What it cannot be more than, whatever is hidden: the whole's count of the same.</param>
    /// <param name="cost">What hiding it costs.</param>
    public int Add(int value, int most, int cost) =>
        Append(new() { Value = value, Most = most, Hidden = SmallCounts.IsSmall(value, threshold), Cost = cost });

    /// <summary>A difference of counts, computable but printed nowhere: sensitive like any other when it is small.</summary>
    public int AddRest(int value, int most) => Append(new() { Value = value, Most = most, Hidden = true });

    /// <summary>What a reader knows a count to be at least.</summary>
    public void SetLeast(int cell, int least) => _cells[cell] = _cells[cell] with { Least = least };

    public void Hide(int cell) => _cells[cell] = _cells[cell] with { Hidden = true };

    public int Value(int cell) => _cells[cell].Value;

    public bool IsHidden(int cell) => _cells[cell].Hidden;

    public void Equate(int total, params int[] parts)
    {
        foreach (var cell in parts.Append(total)) _equationsOf[cell].Add(_equations.Count);
        _equations.Add((total, parts));
    }

    /// <summary>The counts so far are neither hidden further nor moved in another table from here on.</summary>
    public void Fix()
    {
        for (var k = 0; k < _cells.Count; k++) _cells[k] = _cells[k] with { Fixed = true };
    }

    /// <summary>Hides further counts until every small one of <paramref name="cells"/> is safe.</summary>
    /// <returns>The small counts for which no other table was found.</returns>
    public List<int> Protect(IEnumerable<int> cells)
    {
        var search = new Search(this);
        var open = new List<int>();
        foreach (var cell in cells.Where(c => SmallCounts.IsSmall(_cells[c].Value, threshold)))
        {
            var c = _cells[cell];
            var up = Found(cell, 1, Math.Min(protection, c.Most - c.Value));
            var down = Found(cell, -1, Math.Min(protection, c.Value - c.Least));
            if (!(up && down)) open.Add(cell);
        }

        return open;

        bool Found(int cell, int by, int times)
        {
            IReadOnlyCollection<int>? moved = null;
            foreach (var cost in Costs) moved ??= search.OtherTable(cell, by, times, cost);
            foreach (var other in moved ?? []) Hide(other);
            return moved is not null;
        }
    }

    private int Append(Cell cell)
    {
        _cells.Add(cell);
        _equationsOf.Add([]);
        return _cells.Count - 1;
    }

    /// <summary>Depth-first: the unbalanced equation with the fewest counts left to move is balanced first.</summary>
    private sealed class Search(CountEquations all)
    {
        /// <summary>How far each count of the other table is from the true one.</summary>
        private readonly Dictionary<int, int> _away = [];

        /// <summary>Counts moved for the present infant; each moves once.</summary>
        private readonly HashSet<int> _moved = [];
        private readonly Dictionary<int, int> _off = [];
        private int _steps;
        private int _budget;

        /// <summary>The counts that differ in a table where the cell is further away, at most <paramref name="cost"/> worth of them
        /// shown; or null.</summary>
        public Dictionary<int, int>.KeyCollection? OtherTable(int cell, int by, int times, int cost)
        {
            _away.Clear();
            _budget = cost;
            for (var infant = 0; infant < times; infant++)
            {
                _moved.Clear();
                _off.Clear();
                _steps = 0;
                if (!MayMove(cell, by)) return null;
                Move(cell, by);
                if (!Balance()) return null;
            }

            return _away.Keys;
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

            // What costs nothing first, then what balances other equations too, then what has the most room.
            var candidates = parts.Append(total).Where(IsOpen).Select(c => (Cell: c, Step: c == total ? by : -by))
                .Where(c => MayMove(c.Cell, c.Step))
                .OrderBy(c => Cost(c.Cell)).ThenBy(c => Unbalances(c.Cell, c.Step))
                .ThenByDescending(c => all._cells[c.Cell].Value).ToList();
            foreach (var (cell, step) in candidates)
            {
                var cost = Cost(cell);
                var known = _away.ContainsKey(cell);
                _budget -= cost;
                Move(cell, step);
                if (Balance()) return true;
                Move(cell, -step);
                _moved.Remove(cell);
                if (!known) _away.Remove(cell);
                _budget += cost;
            }

            return false;
        }

        private int Cost(int cell) => all._cells[cell].Hidden || _away.ContainsKey(cell) ? 0 : all._cells[cell].Cost;

        /// <summary>A shown zero stays; a shown count moves at a cost.</summary>
        private bool IsOpen(int cell) => !all._cells[cell].Fixed && (all._cells[cell].Hidden || all._cells[cell].Value > 0)
            && Cost(cell) <= _budget && !_moved.Contains(cell);

        private bool MayMove(int cell, int by) =>
            all._cells[cell].Value + _away.GetValueOrDefault(cell) + by >= all._cells[cell].Least;

        /// <summary>How much further off its equations are when a count moves.</summary>
        private int Unbalances(int cell, int by) => all._equationsOf[cell].Sum(e =>
        {
            var off = _off.GetValueOrDefault(e);
            return Math.Abs(off + (all._equations[e].Total == cell ? -by : by)) - Math.Abs(off);
        });

        private void Move(int cell, int by)
        {
            _moved.Add(cell);
            _away[cell] = _away.GetValueOrDefault(cell) + by;
            foreach (var e in all._equationsOf[cell])
                _off[e] = _off.GetValueOrDefault(e) + (all._equations[e].Total == cell ? -by : by);
        }
    }
}
