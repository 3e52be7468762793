using Npgsql;
using Registry.Access;
using Registry.Infants.List;
using Registry.Infants.Statuses;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Rules;
using Registry.Rules.Statistics;

namespace Registry.Benchmarks;

/// <summary>
/// The infants of a birth period by the state of one milestone, split by whether the deadline has passed on the as-of day.
/// Rates stand on infants whose deadline has passed: counting those done early among infants still in time would flatter.
/// </summary>
public sealed record MilestoneCounts(MilestoneKind Kind, IReadOnlyDictionary<(MilestoneState State, bool Closed), long> By)
{
    public long Of(MilestoneState state, bool closed) => By.GetValueOrDefault((state, closed));

    /// <summary>Deadline passed, step done by it.</summary>
    public long InTime => Of(MilestoneState.Met, true);

    /// <summary>Done by the deadline, of everyone for whom the step arose: those never documented count against.</summary>
    public Proportion OfEligible => new(InTime, InTime + Of(MilestoneState.Late, true) + Of(MilestoneState.Missed, true));

    /// <summary>Done by the deadline, of those documented as done at all: timeliness of the care that took place.</summary>
    public Proportion OfServed => new(InTime, InTime + Of(MilestoneState.Late, true));

    public long Excluded => Of(MilestoneState.Excluded, true) + Of(MilestoneState.Excluded, false);
    public long InProgress => Of(MilestoneState.Met, false) + Of(MilestoneState.Pending, false);
}

/// <summary>One month of birth in the trend.</summary>
public sealed record MonthShare(DateOnly Month, MilestoneKind Kind, Proportion InTime);

/// <summary>What needs somebody's attention today. Counts of infants, by the soonest due step.</summary>
public sealed record Attention(long Overdue, long DueThisWeek, long LostToFollowUp, long LostToDocumentation, long HeldRows);

/// <summary>Counts statuses for the overview, of the infants the viewer sees.</summary>
public sealed class CountMilestones(NpgsqlDataSource source)
{
    private static readonly string EachMilestone = EmbeddedSql.Of<CountMilestones>("EachMilestone");
    private static readonly string PeriodSql = EmbeddedSql.Of<CountMilestones>();
    private static readonly string MonthsSql = EmbeddedSql.Of<CountMilestones>("CountMonths");
    private static readonly string AttentionSql = EmbeddedSql.Of<CountMilestones>("CountAttention");

    public async Task<IReadOnlyList<MilestoneCounts>> ForPeriodAsync(
        StatusesAsOf statuses, InfantFilter filter, Viewer viewer, CancellationToken ct)
    {
        var counts = Enum.GetValues<MilestoneKind>().ToDictionary(k => k, _ => new Dictionary<(MilestoneState, bool), long>());
        await using var command = Command(PeriodSql, statuses, filter, viewer, EachMilestone);
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct))
            counts[r.Code<MilestoneKind>(0)][(r.Code<MilestoneState>(1), r.GetBoolean(2))] = r.GetInt64(3);
        return [.. counts.Select(c => new MilestoneCounts(c.Key, c.Value))];
    }

    /// <summary>In-time share of the eligible by month of birth; months in which nobody's deadline has passed are left out.</summary>
    public async Task<IReadOnlyList<MonthShare>> ByMonthAsync(
        StatusesAsOf statuses, InfantFilter filter, Viewer viewer, CancellationToken ct)
    {
        var months = new List<MonthShare>();
        await using var command = Command(MonthsSql, statuses, filter, viewer, EachMilestone);
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct)) months.Add(new(r.Date(0), r.Code<MilestoneKind>(1), new(r.GetInt64(2), r.GetInt64(3))));
        return months;
    }

    public async Task<Attention> AttentionAsync(StatusesAsOf statuses, Viewer viewer, CancellationToken ct)
    {
        await using var command = Command(AttentionSql, statuses, new(), viewer, "");
        await using var r = await command.ExecuteReaderAsync(ct);
        await r.ReadAsync(ct);
        return new(r.GetInt64(0), r.GetInt64(1), r.GetInt64(2), r.GetInt64(3), r.GetInt64(4));
    }

    private NpgsqlCommand Command(string sql, StatusesAsOf statuses, InfantFilter filter, Viewer viewer, string joined)
    {
        var command = source.CreateCommand();
        command.CommandText = sql.Replace(
            "{from}", ListInfants.From(command, statuses, filter, viewer, joined), StringComparison.Ordinal);
        command.Parameters.AddWithValue("as_of", statuses.AsOf);
        return command;
    }
}
