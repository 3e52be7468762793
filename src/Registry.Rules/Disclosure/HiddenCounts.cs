using Registry.Rules.Measures;

namespace Registry.Rules.Disclosure;

/// <summary>
/// Which counts of a release may not leave the registry: those of 1 to <see cref="Policy.ReleaseThreshold"/> − 1 (a state health
/// department's rule: non-zero below 10, and the rates derived from them), and further ones so that no such count can be narrowed to
/// less than <see cref="Policy.ReleaseProtection"/> either side from what is shown, in any breakdown or all together. What a
/// stranger can compute with: how the lines lie within each other (<see cref="ReleasedLines"/>), the whole as the sum of its groups, and
/// that a hidden count is not zero (zeros are shown, except where a line is withheld from a whole breakdown).
/// </summary>
/// <remarks>
/// The whole is settled first and then stays: with it every breakdown can be settled by itself, because any two tables with the
/// same sums can be of the same infants.
/// </remarks>
public sealed class HiddenCounts
{
    private readonly Dictionary<(Breakdown, string), Dictionary<string, int>> _rows = [];
    private readonly CountEquations _cells;

    private HiddenCounts(Policy policy)
    {
        Threshold = policy.ReleaseThreshold;
        _cells = new(policy.ReleaseThreshold, policy.ReleaseProtection);
    }

    public int Threshold { get; }

    /// <summary>Whether a printed count of the whole (<see cref="Breakdown.None"/>) or of a group may not be shown.</summary>
    /// <exception cref="KeyNotFoundException">The release does not print this line.</exception>
    public bool Contains(Breakdown breakdown, string group, string line) => _cells.IsHidden(_rows[(breakdown, group)][line]);

    /// <param name="tables">The same infants, broken down in every way that is ever released for them; one whole.</param>
    /// <param name="policy">From what on a count may be shown, and how well a hidden one is protected.</param>
    public static HiddenCounts Of(IReadOnlyList<MeasureTable> tables, Policy policy)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(policy.ReleaseThreshold, SmallCounts.LowestThreshold);
        var hidden = new HiddenCounts(policy);
        hidden.SettleWhole(tables[0]);
        foreach (var table in tables.Where(t => t.Groups.Count > 0)) hidden.Settle(table);
        return hidden;
    }

    private void SettleWhole(MeasureTable table)
    {
        var row = new Row(_cells, table, table.Whole, whole: true);
        _rows.Add((Breakdown.None, table.Whole.Name), row.Lines);
        Protect([row], []);
        _cells.Fix();
    }

    private void Settle(MeasureTable table)
    {
        var whole = _rows[(Breakdown.None, table.Whole.Name)];
        var rows = table.Groups.Select(g => new Row(_cells, table, g, whole: false)).ToList();
        foreach (var (group, row) in table.Groups.Zip(rows)) _rows.Add((table.Breakdown, group.Name), row.Lines);
        foreach (var line in ReleasedLines.ByGroup) _cells.Equate(whole[line], [.. rows.Select(r => r.Lines[line])]);

        // The groups would give away what is hidden of the whole.
        Protect(rows, [.. ReleasedLines.ByGroup.Where(l => _cells.IsHidden(whole[l]))]);
    }

    /// <summary>Hides what must be hidden. Where that does not help, the line is withheld, zeros and all, with those within it; then the
    /// one around it.</summary>
    private void Protect(IReadOnlyList<Row> rows, HashSet<string> withheld)
    {
        while (true)
        {
            foreach (var line in ReleasedLines.OfTheWhole.Where(l => ReleasedLines.Around(l).Any(withheld.Contains))) withheld.Add(line);
            foreach (var row in rows) row.Withhold(withheld);
            var open = _cells.Protect(rows.SelectMany(r => r.LineOf.Keys)).ToHashSet();
            var lines = rows.SelectMany(r => r.LineOf.Where(c => open.Contains(c.Key)))
                .Select(c => ReleasedLines.Around(c.Value).Prepend(c.Value).FirstOrDefault(l => !withheld.Contains(l)))
                .OfType<string>().ToList();
            if (lines.Count == 0) return;
            withheld.UnionWith(lines);
        }
    }

    /// <summary>The counts of one group as cells: those printed, and every difference a reader can compute.</summary>
    private sealed class Row
    {
        private readonly CountEquations _cells;
        private readonly IReadOnlyList<Split> _splits;

        /// <summary>Lines that are all within a count, no infant in two of them: while they are not zero, nor is it.</summary>
        private readonly List<(int Cell, string[] Lines)> _within = [];

        public Row(CountEquations cells, MeasureTable table, GroupCounts group, bool whole)
        {
            (_cells, _splits) = (cells, ReleasedLines.SplitsOf(whole));
            int Most(IEnumerable<string> lines, string of) =>
                whole ? int.MaxValue : table.Count(table.Whole, of) - lines.Sum(l => table.Count(table.Whole, l));
            foreach (var line in ReleasedLines.Lines(whole))
                Add(line, Lines[line] = cells.Add(table.Count(group, line), Most([], line), ReleasedLines.CostOf(line)), line);
            foreach (var split in _splits)
            {
                var total = Lines[split.Of];
                var outside = split.Parts
                    .Select(p => Rest(p, total, [p], Most([p], split.Of), split.Parts.Where(q => q != p))).ToArray();
                if (split.Parts.Count > 1) Rest(split.Parts[0], outside[0], split.Parts.Skip(1), Most(split.Parts, split.Of), []);
            }
        }

        /// <summary>The printed counts.</summary>
        public Dictionary<string, int> Lines { get; } = [];

        /// <summary>The line that is withheld where a count, or a difference, cannot be protected otherwise.</summary>
        public Dictionary<int, string> LineOf { get; } = [];

        /// <summary>Hides these lines, and lets nothing be known of any.</summary>
        public void Withhold(HashSet<string> withheld)
        {
            foreach (var line in Lines.Keys.Where(withheld.Contains)) _cells.Hide(Lines[line]);
            foreach (var (cell, lines) in _within) _cells.SetLeast(cell, lines.Sum(Least));

            int Least(string line) => withheld.Contains(line) || _cells.Value(Lines[line]) == 0 ? 0
                : Math.Max(1, _splits.Where(s => s.Of == line).Select(s => s.Parts.Sum(Least)).DefaultIfEmpty().Max());
        }

        private int Rest(string line, int total, IEnumerable<string> parts, int most, IEnumerable<string> within)
        {
            var cells = parts.Select(p => Lines[p]).ToArray();
            var rest = _cells.AddRest(_cells.Value(total) - cells.Sum(_cells.Value), most);
            _cells.Equate(total, [.. cells, rest]);
            Add(line, rest, [.. within]);
            return rest;
        }

        private void Add(string line, int cell, params string[] within)
        {
            LineOf.Add(cell, line);
            _within.Add((cell, within));
        }
    }
}
