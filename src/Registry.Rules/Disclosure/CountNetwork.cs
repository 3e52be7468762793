namespace Registry.Rules.Disclosure;

/// <summary>
/// The counts of a table with all its totals as flows in a network: rows and columns are nodes, and what flows into a node flows
/// out, because parts add up to their total. Hidden counts may take any values that keep this so. Moving one count by some
/// amount means sending that amount around a cycle of hidden counts, so how far a count could move is a maximum flow, and whole
/// numbers suffice (L. H. Cox, JASA 1995;90:1453).
/// </summary>
internal sealed class CountNetwork
{
    private readonly List<Arc> _arcs = [];
    private readonly List<int>[] _arcsAt;

    public CountNetwork(int nodes) => _arcsAt = [.. Enumerable.Range(0, nodes).Select(_ => new List<int>())];

    private sealed record Arc(int From, int To, long Count, long Cost)
    {
        public Suppression Suppression;

        /// <summary>By how much the count moved in the other table that is being looked for.</summary>
        public long Moved;
    }

    /// <summary>Adds a count.</summary>
    /// <param name="cost">What is lost by hiding it; positive.</param>
    /// <returns>Its number.</returns>
    public int Add(int from, int to, long count, long cost)
    {
        _arcs.Add(new Arc(from, to, count, cost));
        _arcsAt[from].Add(_arcs.Count - 1);
        _arcsAt[to].Add(_arcs.Count - 1);
        return _arcs.Count - 1;
    }

    public DisclosedCount this[int count] =>
        new(_arcs[count].Suppression == Suppression.None ? _arcs[count].Count : null, _arcs[count].Suppression);

    /// <summary>Hides the small counts, and others until each small one could be any value from 1 to threshold − 1.</summary>
    public void Protect(int threshold)
    {
        var small = Enumerable.Range(0, _arcs.Count).Where(k => SmallCounts.IsSmall(_arcs[k].Count, threshold)).OrderBy(k => _arcs[k].Count).ToList();
        foreach (var k in small) _arcs[k].Suppression = Suppression.Small;
        foreach (var k in small)
        {
            var down = Move(k, up: false, _arcs[k].Count - 1);
            var up = threshold - 1 - _arcs[k].Count;
            Move(k, up: true, up == 0 && down == 0 ? 1 : up);
        }
    }

    /// <summary>Looks for another table in which count <paramref name="k"/> is <paramref name="amount"/> more (or less), hiding whatever
    /// must be hidden for the reader not to rule it out.</summary>
    /// <returns>How far it could be moved.</returns>
    private long Move(int k, bool up, long amount)
    {
        var arc = _arcs[k];
        var (start, end) = up ? (arc.To, arc.From) : (arc.From, arc.To);
        var left = amount;
        while (left > 0 && CheapestPath(k, start, end) is { } path)
        {
            var step = path.Aggregate(left, (least, hop) => Math.Min(least, Room(hop.Arc, hop.Forward)));
            foreach (var (hop, forward) in path)
            {
                _arcs[hop].Moved += forward ? step : -step;
                if (_arcs[hop].Suppression == Suppression.None) _arcs[hop].Suppression = Suppression.Complementary;
            }

            left -= step;
        }

        foreach (var moved in _arcs) moved.Moved = 0;
        return amount - left;
    }

    /// <summary>How far a count may move: up without end, down to 1, since the reader knows that no hidden count is zero. A zero stays.</summary>
    private long Room(int k, bool forward) => _arcs[k].Count == 0 ? 0 : forward ? long.MaxValue : _arcs[k].Count + _arcs[k].Moved - 1;

    /// <summary>Dijkstra's algorithm; a hop along a hidden count costs nothing.</summary>
    private List<(int Arc, bool Forward)>? CheapestPath(int without, int start, int end)
    {
        var cost = new long[_arcsAt.Length];
        Array.Fill(cost, long.MaxValue);
        var by = new (int Arc, bool Forward)[_arcsAt.Length];
        var queue = new PriorityQueue<int, (long Cost, int Node)>();
        cost[start] = 0;
        queue.Enqueue(start, (0, start));
        while (queue.TryDequeue(out var node, out var reached) && node != end)
        {
            if (reached.Cost > cost[node]) continue;
            foreach (var k in _arcsAt[node])
            {
                var forward = _arcs[k].From == node;
                if (k == without || Room(k, forward) == 0) continue;
                var next = forward ? _arcs[k].To : _arcs[k].From;
                var sum = cost[node] + (_arcs[k].Suppression == Suppression.None ? _arcs[k].Cost : 0);
                if (sum >= cost[next]) continue;
                cost[next] = sum;
                by[next] = (k, forward);
                queue.Enqueue(next, (sum, next));
            }
        }

        if (cost[end] == long.MaxValue) return null;
        var path = new List<(int, bool)>();
        for (var node = end; node != start;)
        {
            var (k, forward) = by[node];
            path.Add((k, forward));
            node = forward ? _arcs[k].From : _arcs[k].To;
        }

        return path;
    }
}
