using Npgsql;
using Registry.Intake.Rows;
using Registry.Platform.Data;
using Registry.Records;
using Registry.Rules.Linkage;

namespace Registry.Intake.HeldRows;

/// <summary>Adds the counts of <c>CountWaitingRows.sql</c> up to an overview.</summary>
/// <param name="only">The age whose rows are counted in all and by what they have alike; null: any.</param>
internal sealed class CountWaiting(WaitingAge? only)
{
    private readonly Dictionary<Guid, (string Code, string Name, Dictionary<WaitingAge, int> Rows)> _sites = [];
    private readonly Dictionary<WaitingGroup, int> _groups = [];
    private int _total;

    public void Add(NpgsqlDataReader r)
    {
        var (age, rows) = ((WaitingAge)r.GetInt32(3), r.GetInt32(8));
        SiteOf(r).Rows[age] += rows;
        if (only is { } one && one != age) return;
        _total += rows;
        IReadOnlyList<Problem> problems = r.IsDBNull(7) ? [default] : ProblemsJson.Read(r.GetString(7));
        foreach (var problem in problems)
        {
            var group = new WaitingGroup(
                r.GetString(1), r.GetString(2), r.GetString(4), r.Code<RowOutcome>(5), r.CodeOrNull<HoldReason>(6), problem.Field,
                problem.Reason);
            _groups[group] = _groups.GetValueOrDefault(group) + rows;
        }
    }

    public WaitingOverview Overview() => new(
        _total,
        [.. _sites.Select(s => new WaitingSite(new(s.Key), s.Value.Code, s.Value.Name, s.Value.Rows))
            .OrderBy(s => s.Name, StringComparer.CurrentCulture)],
        [.. _groups.OrderByDescending(g => g.Value).ThenBy(g => g.Key.SiteName).ThenBy(g => g.Key.Kind).ThenBy(g => g.Key.Outcome)
            .ThenBy(g => g.Key.Reason, StringComparer.Ordinal).Select(g => (g.Key, g.Value))]);

    private (string Code, string Name, Dictionary<WaitingAge, int> Rows) SiteOf(NpgsqlDataReader r)
    {
        if (!_sites.TryGetValue(r.GetGuid(0), out var site))
            _sites[r.GetGuid(0)] = site = (r.GetString(1), r.GetString(2), Enum.GetValues<WaitingAge>().ToDictionary(a => a, _ => 0));
        return site;
    }
}
