using Google.OrTools.LinearSolver;
using Registry.Rules.Measures;

namespace Registry.Rules.Tests.Disclosure;

/// <summary>Lines that lie within another by their definition, no infant in two of them.</summary>
/// <param name="Exactly">They are all of it.</param>
internal sealed record LiesWithin(string Of, bool Exactly, params string[] Parts);

/// <summary>What a reader can find out about one small count: it is no less and no more than this.</summary>
internal sealed record Narrowed(string Count, int Value, int Lowest, int Highest, double Least, double Most)
{
    public bool Solved => Most - Least < .5;

    /// <summary>So far either side, as far as a count can be.</summary>
    public bool AtLeast(int either) => Most >= Math.Min(Highest, Value + either) - 1e-6 && Least <= Math.Max(Lowest, Value - either) + 1e-6;

    public override string ToString() => $"{Count} = {Value}: {Least:0.##} to {Most:0.##}";
}

/// <summary>
/// A reader with everything printed, the definitions of the lines, and a linear-programming library (GLOP, of Google OR-Tools): for
/// every small count, printed hidden or only a difference, the least and the most it can be. It knows nothing of how counts were
/// chosen to be hidden, and gets no relation from that code.
/// </summary>
internal sealed class ReleaseAudit
{
    private const int Small = 10;

    private readonly Solver _solver = Solver.CreateSolver("GLOP");
    private readonly List<(string Name, int Value, int Lowest, int Highest, (Variable Variable, int Sign)[] Terms)> _small = [];
    private readonly Func<Breakdown, string, string, bool?> _isHidden;
    private readonly IReadOnlyList<LiesWithin> _definitions;

    /// <param name="tables">The truth, in every breakdown; one whole.</param>
    /// <param name="isHidden">Of a count; null where the release does not print the line.</param>
    /// <param name="definitions">How the lines lie within each other.</param>
    public ReleaseAudit(
        IReadOnlyList<MeasureTable> tables, Func<Breakdown, string, string, bool?> isHidden, IReadOnlyList<LiesWithin> definitions)
    {
        (_isHidden, _definitions) = (isHidden, definitions);
        var whole = Row(tables[0], Breakdown.None, tables[0].Whole);
        foreach (var table in tables.Where(t => t.Groups.Count > 0))
        {
            var rows = table.Groups.Select(g => Row(table, table.Breakdown, g)).ToList();
            foreach (var (line, total) in whole)
                if (rows[0].ContainsKey(line)) Constrain(total, rows.Select(r => r[line]), exactly: true);
        }
    }

    /// <summary>Small counts that were shown are not among them: see <see cref="SmallAndShown"/>.</summary>
    public IEnumerable<Narrowed> Narrow()
    {
        foreach (var (name, value, lowest, highest, terms) in _small)
            yield return new(name, value, lowest, highest, Bound(terms, maximise: false), Bound(terms, maximise: true));
    }

    public List<string> SmallAndShown { get; } = [];

    private Dictionary<string, Variable> Row(MeasureTable table, Breakdown breakdown, GroupCounts group)
    {
        var row = new Dictionary<string, Variable>();
        foreach (var line in table.Set.Lines.Select(l => l.Code))
        {
            if (_isHidden(breakdown, group.Name, line) is not { } hidden) continue;
            var (value, name) = (table.Count(group, line), $"{breakdown} {group.Name} {line}");
            var least = !hidden ? value : MayBeWithheld(table, breakdown, line) ? 0 : 1;
            row[line] = _solver.MakeNumVar(least, hidden ? double.PositiveInfinity : value, name);
            if (value is > 0 and < Small)
                _small.Add((name, value, LeastOf(table, breakdown, group, line), Highest(table, breakdown, line), [(row[line], 1)]));
            if (value is > 0 and < Small && !hidden) SmallAndShown.Add(name);
        }

        foreach (var d in _definitions.Where(d => row.ContainsKey(d.Of)))
        {
            var parts = d.Parts.Where(row.ContainsKey).ToList();
            if (parts.Count == 0) continue;
            Constrain(row[d.Of], parts.Select(p => row[p]), d.Exactly && parts.Count == d.Parts.Length);
            foreach (var part in parts)
                if (table.Count(group, d.Of) - table.Count(group, part) is > 0 and < Small and var rest)
                    _small.Add(($"{breakdown} {group.Name} {d.Of} not {part}", rest,
                        parts.Where(p => p != part).Sum(p => LeastOf(table, breakdown, group, p)), Highest(table, breakdown, d.Of, part),
                        [(row[d.Of], 1), (row[part], -1)]));
        }

        return row;
    }

    /// <summary>How small a count can be: zeros are printed, so it is as many as the lines within it that are not zero.</summary>
    private int LeastOf(MeasureTable table, Breakdown breakdown, GroupCounts group, string line)
    {
        if (_isHidden(breakdown, group.Name, line) is null || table.Count(group, line) == 0) return 0;
        return Math.Max(1, _definitions.Where(d => d.Of == line)
            .Select(d => d.Parts.Sum(p => LeastOf(table, breakdown, group, p))).DefaultIfEmpty().Max());
    }

    /// <summary>A group has no more than the whole.</summary>
    private static int Highest(MeasureTable table, Breakdown breakdown, string line, string? not = null) => breakdown == Breakdown.None
        ? int.MaxValue : table.Count(table.Whole, line) - (not is null ? 0 : table.Count(table.Whole, not));

    /// <summary>Where a line is hidden of every group, zeros may be among them.</summary>
    private bool MayBeWithheld(MeasureTable table, Breakdown breakdown, string line) => breakdown == Breakdown.None
        ? table.Count(table.Whole, line) == 0
        : table.Groups.All(g => _isHidden(breakdown, g.Name, line) == true);

    private void Constrain(Variable total, IEnumerable<Variable> parts, bool exactly)
    {
        var constraint = _solver.MakeConstraint(0, exactly ? 0 : double.PositiveInfinity);
        constraint.SetCoefficient(total, 1);
        foreach (var part in parts) constraint.SetCoefficient(part, -1);
    }

    private double Bound((Variable Variable, int Sign)[] terms, bool maximise)
    {
        var objective = _solver.Objective();
        objective.Clear();
        foreach (var (variable, sign) in terms) objective.SetCoefficient(variable, sign);
        objective.SetOptimizationDirection(maximise);
        return _solver.Solve() switch
        {
            Solver.ResultStatus.OPTIMAL => objective.Value(),
            Solver.ResultStatus.UNBOUNDED => double.PositiveInfinity,
            var other => throw new InvalidOperationException($"The linear program ended {other}."),
        };
    }
}
