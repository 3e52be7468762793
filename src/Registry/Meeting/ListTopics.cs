using Npgsql;
using NpgsqlTypes;
using Registry.Access;
using Registry.FollowUp;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Meeting;

/// <summary>An infant a meeting talks about.</summary>
/// <param name="Day">When it happened, or was to happen.</param>
/// <param name="Site">Who owns the next step.</param>
public sealed record TopicLine(
    MeetingTopic Topic, InfantId Id, DateOnly Day, PathStep Step, DateOnly? BornOn, string Child, string Mother, string? RecordNumber,
    string Site);

/// <summary>Counts and lists the infants of a week's meeting that a viewer sees. The page records the read.</summary>
public sealed class ListTopics(ViewerDatabase data, FindLossToFollowUp losses, ProgramClock clock)
{
    private static readonly string Topics = EmbeddedSql.Of<ListTopics>("Topics")
        .Replace("{visible}", Visibility.Where("t.infant_id"), StringComparison.Ordinal);

    private static readonly string CountSql = Topics + EmbeddedSql.Of<ListTopics>("CountTopics");
    private static readonly string ListSql = Topics + EmbeddedSql.Of<ListTopics>();

    public async Task<IReadOnlyDictionary<MeetingTopic, int>> CountAsync(MeetingWeek week, Viewer viewer, CancellationToken ct)
    {
        await using var connection = await data.OpenAsync(viewer, ct);
        await using var command = await CommandAsync(connection, CountSql, week, viewer, ct);
        var counts = Enum.GetValues<MeetingTopic>().ToDictionary(t => t, _ => 0);
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct)) counts[r.Code<MeetingTopic>(0)] = r.GetInt32(1);
        return counts;
    }

    /// <param name="week">The days.</param>
    /// <param name="topic">One of them; null: the first of each.</param>
    /// <param name="after">How many of it were shown already.</param>
    /// <param name="most">Of each.</param>
    /// <param name="viewer">Who sees them.</param>
    /// <param name="ct">Cancels.</param>
    public async Task<IReadOnlyList<TopicLine>> RunAsync(
        MeetingWeek week, MeetingTopic? topic, int after, int most, Viewer viewer, CancellationToken ct)
    {
        await using var connection = await data.OpenAsync(viewer, ct);
        await using var command = await CommandAsync(connection, ListSql, week, viewer, ct);
        command.Parameters.AddCode("topic", topic);
        command.Parameters.AddWithValue("after", after);
        command.Parameters.AddWithValue("most", most);
        var lines = new List<TopicLine>();
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct))
            lines.Add(new(r.Code<MeetingTopic>(0), new(r.GetGuid(1)), r.Date(2), r.Code<PathStep>(3), r.ValueOrNull<DateOnly>(4),
                $"{r.TextOrNull(5)} {r.TextOrNull(6)}".Trim(), $"{r.TextOrNull(7)} {r.TextOrNull(8)}".Trim(), r.TextOrNull(9),
                r.GetString(10)));
        return lines;
    }

    private async Task<NpgsqlCommand> CommandAsync(
        NpgsqlConnection connection, string sql, MeetingWeek week, Viewer viewer, CancellationToken ct)
    {
        var command = new NpgsqlCommand(sql, connection);
        command.Parameters.AddWithValue("from", NpgsqlDbType.Date, week.From);
        command.Parameters.AddWithValue("through", NpgsqlDbType.Date, week.Through);
        command.Parameters.AddWithValue("end", clock.EndOf(week.Through).ToUniversalTime());
        command.Parameters.AddWithValue("first", NpgsqlDbType.Date, await losses.FirstNightAsync(ct) ?? week.Through);
        Visibility.Bind(command, viewer);
        return command;
    }
}
