using Npgsql;
using Registry.Access;
using Registry.Infants.List;
using Registry.Infants.Statuses;
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
    private const string EachMilestone =
        """
        cross join lateral (values
          ('screened', s.screened_state, s.screened_deadline_on),
          ('diagnosed', s.diagnosed_state, s.diagnosed_deadline_on),
          ('enrolled', s.enrolled_state, s.enrolled_deadline_on)) m(kind, state, deadline_on)
        """;

    public async Task<IReadOnlyList<MilestoneCounts>> ForPeriodAsync(
        StatusesAsOf statuses, InfantFilter filter, Viewer viewer, CancellationToken ct)
    {
        var counts = Enum.GetValues<MilestoneKind>().ToDictionary(k => k, _ => new Dictionary<(MilestoneState, bool), long>());
        await using var command = source.CreateCommand();
        command.CommandText =
            $"""
            select m.kind, m.state, m.deadline_on < @as_of, count(*)
            {From(command, statuses, filter, viewer, EachMilestone)}
            group by 1, 2, 3
            """;
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct))
            counts[Codes.Parse<MilestoneKind>(r.GetString(0))][(Codes.Parse<MilestoneState>(r.GetString(1)), r.GetBoolean(2))] = r.GetInt64(
                3);
        return [.. counts.Select(c => new MilestoneCounts(c.Key, c.Value))];
    }

    /// <summary>In-time share of the eligible by month of birth; months in which nobody's deadline has passed are left out.</summary>
    public async Task<IReadOnlyList<MonthShare>> ByMonthAsync(StatusesAsOf statuses, InfantFilter filter, Viewer viewer,
        CancellationToken ct)
    {
        var months = new List<MonthShare>();
        await using var command = source.CreateCommand();
        command.CommandText =
            $"""
            select date_trunc('month', s.born_on)::date, m.kind, count(*) filter (where m.state = 'met'), count(*)
            {From(command, statuses, filter, viewer, EachMilestone)}
              and m.deadline_on < @as_of and m.state in ('met', 'late', 'missed')
            group by 1, 2 order by 1, 2
            """;
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct))
            months.Add(new(r.GetFieldValue<DateOnly>(0), Codes.Parse<MilestoneKind>(r.GetString(1)), new(r.GetInt64(2), r.GetInt64(3))));
        return months;
    }

    public async Task<Attention> AttentionAsync(StatusesAsOf statuses, Viewer viewer, CancellationToken ct)
    {
        await using var command = source.CreateCommand();
        command.CommandText =
            $"""
            select count(*) filter (where s.next_due_on < @as_of),
                   count(*) filter (where s.next_due_on between @as_of and @as_of + 7),
                   count(*) filter (where s.loss = 'lost_to_follow_up'),
                   count(*) filter (where s.loss = 'lost_to_documentation'),
                   (select count(*) from held_rows h where h.resolution is null and (@viewer_sees_all or h.site_id = @viewer_site))
            {From(command, statuses, new(), viewer, "")}
            """;
        await using var r = await command.ExecuteReaderAsync(ct);
        await r.ReadAsync(ct);
        return new(r.GetInt64(0), r.GetInt64(1), r.GetInt64(2), r.GetInt64(3), r.GetInt64(4));
    }

    private static string From(NpgsqlCommand command, StatusesAsOf statuses, InfantFilter filter, Viewer viewer, string more)
    {
        Visibility.Bind(command, viewer);
        command.Parameters.AddWithValue("as_of", statuses.AsOf);
        return $"""
            from {statuses.Relation} s
            join sites bs on bs.id = s.birth_site_id
            join sites rs on rs.id = s.responsible_site_id
            {more}
            where {string.Join(" and ", filter.Conditions(command, statuses.AsOf).Prepend(Visibility.Where("s.infant_id")))}
            """;
    }
}
