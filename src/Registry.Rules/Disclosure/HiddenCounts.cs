using Registry.Rules.Measures;

namespace Registry.Rules.Disclosure;

/// <summary>
/// Which counts may not leave the registry: those of 1 to <see cref="Threshold"/> − 1 (a state health department's rule: non-zero
/// below 10, and the rates derived from them), and further ones so that no such count can be computed from what is shown, in any
/// breakdown or all together. What a stranger can compute with: every sum of the set, the whole as the sum of its groups, the
/// difference of a proportion's two lines, and that a hidden count is not zero (zeros are shown).
/// </summary>
/// <remarks>
/// The sums overlap (a lost infant is one of the lost and one of the not screened) and the breakdowns share their whole, so no network of
/// totals describes them and the equations are taken as they are (<see cref="CountEquations"/>).
/// By group only the lines of the survey's and the timeliness proportions are shown (<see cref="MeasureSet.ShownByGroup"/>):
/// the others would be small nearly everywhere. Different definitions of nearly the same thing (90 days, 3 months, the policy's
/// deadline) are not known to be related: their difference may tell of single infants' dates.
/// </remarks>
public sealed class HiddenCounts
{
    public const int DefaultThreshold = 10;

    private readonly Dictionary<(Breakdown, string), bool[]> _hidden = [];
    private readonly MeasureTable _any;

    private HiddenCounts(MeasureTable any, int threshold) => (_any, Threshold) = (any, threshold);

    public int Threshold { get; }

    /// <summary>Whether a count of the whole (<see cref="Breakdown.None"/>) or of a group may not be shown.</summary>
    public bool Contains(Breakdown breakdown, string group, string line) => _hidden[(breakdown, group)][_any.IndexOf(line)];

    /// <param name="tables">The same infants, broken down in every way that is ever published for them; one whole.</param>
    /// <param name="threshold">The smallest non-zero count that may be shown; at least 3.</param>
    public static HiddenCounts Of(IReadOnlyList<MeasureTable> tables, int threshold = DefaultThreshold)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(threshold, SmallCounts.LowestThreshold);
        var set = tables[0].Set;
        var hidden = new HiddenCounts(tables[0], threshold);
        var cells = new CountEquations(threshold);

        // The whole first; after that its counts are hidden only when nothing else is left to hide.
        var whole = Add(tables[0].Whole, _ => true);
        cells.Protect();
        cells.SpareAll();
        var groups = tables.SelectMany(t => t.Groups.Select(g => (t.Breakdown, g.Name, Row: Add(g, set.ShownByGroup.Contains)))).ToList();
        foreach (var breakdown in groups.GroupBy(g => g.Breakdown))
            foreach (var line in set.ShownByGroup)
                cells.Equate(whole[line], [.. breakdown.Select(g => g.Row[line])]);
        cells.Protect();

        hidden._hidden[(Breakdown.None, Tabulate.Whole)] = Flags(whole);
        foreach (var (breakdown, name, row) in groups) hidden._hidden[(breakdown, name)] = Flags(row);
        return hidden;

        bool[] Flags(Dictionary<string, int> row) =>
            [.. set.Lines.Select(l => !row.TryGetValue(l.Code, out var cell) || cells.IsHidden(cell))];

        Dictionary<string, int> Add(GroupCounts group, Func<string, bool> shown)
        {
            var row = set.Lines.Where(l => shown(l.Code)).ToDictionary(l => l.Code, l => cells.Add(tables[0].Count(group, l.Code)));
            foreach (var sum in set.Sums)
            {
                // A sum that does not hold, or some of whose lines are not shown, tells nothing.
                if (!row.TryGetValue(sum.Total, out var total)) continue;
                var parts = sum.Parts.Select(p => row.GetValueOrDefault(p, -1)).ToArray();
                if (!parts.Contains(-1) && parts.Sum(cells.Value) == cells.Value(total)) cells.Equate(total, parts);
            }

            var ratios = set.Ratios.Where(r => !r.OfOthers).Select(r => (r.Numerator, r.Denominator)).Distinct();
            foreach (var (numerator, denominator) in ratios)
                if (row.TryGetValue(numerator, out var n) && row.TryGetValue(denominator, out var d) && cells.Value(d) >= cells.Value(n))
                    cells.Equate(d, [n, cells.AddUnshown(cells.Value(d) - cells.Value(n))]);
            return row;
        }
    }
}
