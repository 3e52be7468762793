using Npgsql;
using Registry.Access;
using Registry.Infants.List;
using Registry.Infants.Statuses;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Rules;
using Registry.Rules.Facts;
using Registry.Rules.Statistics;

namespace Registry.Benchmarks;

/// <summary>
/// The infants of a birth period by the state of one milestone, split by whether the deadline has passed on the as-of day.
/// Rates stand on infants whose deadline has passed: counting those done early among infants still in time would flatter.
/// </summary>
public sealed record MilestoneCounts(MilestoneKind Kind, IReadOnlyDictionary<(MilestoneState State, bool Closed), long> By)
{
    /// <summary>Of each milestone, from counts by month or any other way.</summary>
    public static IReadOnlyList<MilestoneCounts> Of<TBy>(IReadOnlyList<CountedStatus<TBy>> counted) =>
    [
        .. Enum.GetValues<MilestoneKind>().Select(kind => new MilestoneCounts(kind, counted.Where(c => c.Counted == Figure(kind))
            .GroupBy(c => (Codes.Parse<MilestoneState>(c.State), c.Closed)).ToDictionary(g => g.Key, g => g.Sum(c => c.Infants)))),
    ];

    public static StatusFigure Figure(MilestoneKind kind) => Codes.Parse<StatusFigure>(Codes.Of(kind));

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
public sealed record MonthShare(DateOnly Month, MilestoneKind Kind, Proportion InTime)
{
    /// <summary>In-time share of the eligible by month of birth; months in which nobody's deadline has passed are left out.</summary>
    public static IReadOnlyList<MonthShare> Of(IReadOnlyList<CountedStatus<DateOnly>> counted) =>
    [
        .. counted.GroupBy(c => c.By).OrderBy(g => g.Key)
            .SelectMany(g => MilestoneCounts.Of(g.ToList()).Select(m => new MonthShare(g.Key, m.Kind, m.OfEligible)))
            .Where(m => m.InTime.Denominator > 0),
    ];
}

/// <summary>What needs somebody's attention today. Counts of infants, by the soonest due step.</summary>
public sealed record Attention(long Overdue, long DueThisWeek, long LostToFollowUp, long LostToDocumentation, long HeldRows);

/// <summary>Counts statuses for the overview, of the infants the viewer sees: of all of them or a site's from kept counts, else
/// from the statuses themselves.</summary>
public sealed class CountMilestones(NpgsqlDataSource source, ReadStatusCounts kept)
{
    private static readonly string EachMilestone = EmbeddedSql.Of<CountMilestones>("EachMilestone");
    private static readonly string MonthsSql = EmbeddedSql.Of<CountMilestones>();
    private static readonly string AttentionSql = EmbeddedSql.Of<CountMilestones>("CountAttention");
    private static readonly StatusFigure[] Milestones = [.. Enum.GetValues<MilestoneKind>().Select(MilestoneCounts.Figure)];

    /// <summary>Every milestone by month of birth.</summary>
    /// <param name="statuses">The day.</param>
    /// <param name="filter">Days of birth, and the site of birth.</param>
    /// <param name="viewer">Who looks.</param>
    /// <param name="ct">Cancels.</param>
    public async Task<IReadOnlyList<CountedStatus<DateOnly>>> ByMonthAsync(
        StatusesAsOf statuses, InfantFilter filter, Viewer viewer, CancellationToken ct)
    {
        if (viewer.IsCoordinator) return await kept.ByMonthAsync(statuses, Milestones, (filter.From, filter.To), filter.Site, ct);
        var months = new List<CountedStatus<DateOnly>>();
        await using var command = Command(MonthsSql, statuses, filter, viewer, EachMilestone);
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct))
            months.Add(new(r.Date(0), r.Code<StatusFigure>(1), r.GetString(2), r.GetBoolean(3), r.GetInt64(4)));
        return months;
    }

    public async Task<Attention> AttentionAsync(StatusesAsOf statuses, Viewer viewer, CancellationToken ct)
    {
        if (viewer.IsCoordinator) return await AttentionOfAllAsync(statuses, ct);
        await using var command = Command(AttentionSql, statuses, new(), viewer, "");
        await using var r = await command.ExecuteReaderAsync(ct);
        await r.ReadAsync(ct);
        return new(r.GetInt64(0), r.GetInt64(1), r.GetInt64(2), r.GetInt64(3), r.GetInt64(4));
    }

    private async Task<Attention> AttentionOfAllAsync(StatusesAsOf statuses, CancellationToken ct)
    {
        var counted = await kept.ByMonthAsync(statuses, [StatusFigure.Due, StatusFigure.LostHow], (null, null), null, ct);
        long Of(string state) => counted.Where(c => c.State == state).Sum(c => c.Infants);

        await using var held = source.CreateCommand("select count(*) from held_rows where resolution is null");
        return new(Of("overdue"), Of("week"), Of(Codes.Of(LossState.LostToFollowUp)), Of(Codes.Of(LossState.LostToDocumentation)),
            (long)(await held.ExecuteScalarAsync(ct))!);
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
