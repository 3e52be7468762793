using System.Text.Json;
using Npgsql;
using NpgsqlTypes;
using Registry.Platform;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Rules.Linkage;

namespace Registry.Intake;

/// <summary>How long a row waits, in calendar days since it was received: none, up to 6, up to 30, more (own choice).</summary>
public enum WaitingAge { Today, Week, Month, Older }

/// <summary>Which waiting rows; null is any. A kind that could not be read is <c>unknown</c>. Field and reason pick rows with that problem.</summary>
public sealed record WaitingFilter(
    SiteId? Site, SubmissionId? Submission = null, RowOutcome? Outcome = null, string? Kind = null, HoldReason? Hold = null, string? Field = null,
    string? Reason = null, WaitingAge? Age = null);

public sealed record WaitingLine(
    SubmissionId SubmissionId, int Row, int Line, RowKind? Kind, RowOutcome Outcome, SiteId SiteId, string SiteName, DateTimeOffset Since, HoldReason? Hold,
    IReadOnlyList<Problem> Problems);

/// <summary>A site's waiting rows by how long they wait.</summary>
public sealed record WaitingSite(SiteId SiteId, string Code, string Name, IReadOnlyDictionary<WaitingAge, int> Rows);

/// <summary>Rows alike: of one site and kind, with one reason. A row with two problems counts under both.</summary>
public sealed record WaitingGroup(
    string SiteCode, string SiteName, string Kind, RowOutcome Outcome, HoldReason? Hold, string? Field, string? Reason, int Rows, DateTimeOffset Oldest);

/// <summary>Lists the rows that wait for a person: of one site, or with null of all. It shows no value of a row.</summary>
public sealed class ListWaitingRows(NpgsqlDataSource source, ProgramClock clock)
{
    public const int PageSize = 50;
    internal static readonly string Sql = EmbeddedSql.Of<ListWaitingRows>("WaitingRows");

    /// <summary>A page, oldest first, and how many there are.</summary>
    public async Task<(IReadOnlyList<WaitingLine> Lines, int Total)> PageAsync(WaitingFilter filter, int skip, int take, CancellationToken ct)
    {
        await using var command = source.CreateCommand(
            $"""
            with waiting as ({Sql})
            select w.*, site.name, (select count(*)::int from waiting) from waiting w join sites site on site.id = w.site_id
             order by w.since, w.submission_id, w.row_number offset @skip limit @take
            """);
        Bind(command, filter);
        command.Parameters.AddWithValue("skip", skip);
        command.Parameters.AddWithValue("take", take);
        var (lines, total) = (new List<WaitingLine>(), 0);
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct))
        {
            lines.Add(new(
                new(r.GetGuid(0)), r.GetInt32(1), r.GetInt32(2), r.IsDBNull(3) ? null : Codes.Parse<RowKind>(r.GetString(3)), Codes.Parse<RowOutcome>(r.GetString(4)),
                new(r.GetGuid(5)), r.GetString(9), r.GetFieldValue<DateTimeOffset>(6), r.IsDBNull(7) ? null : Codes.Parse<HoldReason>(r.GetString(7)),
                r.IsDBNull(8) ? [] : JsonSerializer.Deserialize<List<Problem>>(r.GetString(8), JsonSerializerOptions.Web)!));
            total = r.GetInt32(10);
        }

        return (lines, total);
    }

    /// <summary>The sites with waiting rows, by name.</summary>
    public async Task<IReadOnlyList<WaitingSite>> SitesAsync(WaitingFilter filter, CancellationToken ct)
    {
        var ages = Enum.GetValues<WaitingAge>();
        await using var command = source.CreateCommand(
            $"""
            with waiting as ({Sql})
            select site.id, site.code, site.name, {string.Join(", ", ages.Select((_, i) => $"count(*) filter (where (@from{i}::timestamptz is null or since >= @from{i}) and (@before{i}::timestamptz is null or since < @before{i}))::int"))}
              from waiting w join sites site on site.id = w.site_id group by 1, 2, 3 order by 3
            """);
        Bind(command, filter with { Age = null });
        foreach (var (i, age) in ages.Index())
        {
            var (from, before) = Bounds(age);
            Optional(command, $"from{i}", from?.ToUniversalTime(), NpgsqlDbType.TimestampTz);
            Optional(command, $"before{i}", before?.ToUniversalTime(), NpgsqlDbType.TimestampTz);
        }

        var sites = new List<WaitingSite>();
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct))
            sites.Add(new(new(r.GetGuid(0)), r.GetString(1), r.GetString(2), ages.Index().ToDictionary(a => a.Item, a => r.GetInt32(3 + a.Index))));
        return sites;
    }

    /// <summary>Rows alike, most first.</summary>
    public async Task<IReadOnlyList<WaitingGroup>> GroupsAsync(WaitingFilter filter, int most, CancellationToken ct)
    {
        await using var command = source.CreateCommand(
            $"""
            with waiting as ({Sql})
            select site.code, site.name, coalesce(w.kind, 'unknown'), w.outcome, w.hold, p ->> 'field', p ->> 'reason', count(*)::int, min(w.since)
              from waiting w join sites site on site.id = w.site_id
              left join lateral jsonb_array_elements(case when w.outcome = 'rejected' then w.problems end) p on true
             group by 1, 2, 3, 4, 5, 6, 7 order by 8 desc, 2, 3, 4, 5, 6, 7 limit @most
            """);
        Bind(command, filter);
        command.Parameters.AddWithValue("most", most);
        var groups = new List<WaitingGroup>();
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct))
        {
            groups.Add(new(
                r.GetString(0), r.GetString(1), r.GetString(2), Codes.Parse<RowOutcome>(r.GetString(3)), r.IsDBNull(4) ? null : Codes.Parse<HoldReason>(r.GetString(4)),
                r.IsDBNull(5) ? null : r.GetString(5), r.IsDBNull(6) ? null : r.GetString(6), r.GetInt32(7), r.GetFieldValue<DateTimeOffset>(8)));
        }

        return groups;
    }

    /// <summary>The oldest waiting row like this one, for whoever works through them.</summary>
    public async Task<(SubmissionId Id, int Row)?> NextAsync(WaitingFilter filter, SubmissionId except, int row, CancellationToken ct)
    {
        await using var command = source.CreateCommand(
            $"""
            with waiting as ({Sql})
            select submission_id, row_number from waiting where (submission_id, row_number) <> (@except, @row) order by since, submission_id, row_number limit 1
            """);
        Bind(command, filter);
        command.Parameters.AddWithValue("except", except.Value);
        command.Parameters.AddWithValue("row", row);
        await using var r = await command.ExecuteReaderAsync(ct);
        return await r.ReadAsync(ct) ? (new(r.GetGuid(0)), r.GetInt32(1)) : null;
    }

    internal void Bind(NpgsqlCommand command, WaitingFilter filter)
    {
        var (from, before) = filter.Age is { } age ? Bounds(age) : (null, null);
        Optional(command, "site", filter.Site?.Value, NpgsqlDbType.Uuid);
        Optional(command, "submission", filter.Submission?.Value, NpgsqlDbType.Uuid);
        Optional(command, "outcome", filter.Outcome is { } outcome ? Codes.Of(outcome) : null, NpgsqlDbType.Text);
        Optional(command, "kind", filter.Kind, NpgsqlDbType.Text);
        Optional(command, "hold", filter.Hold is { } hold ? Codes.Of(hold) : null, NpgsqlDbType.Text);
        Optional(command, "reason", filter.Reason, NpgsqlDbType.Text);
        Optional(command, "field", string.IsNullOrEmpty(filter.Field) ? null : filter.Field, NpgsqlDbType.Text);
        Optional(command, "from", from?.ToUniversalTime(), NpgsqlDbType.TimestampTz);
        Optional(command, "before", before?.ToUniversalTime(), NpgsqlDbType.TimestampTz);
    }

    private (DateTimeOffset? From, DateTimeOffset? Before) Bounds(WaitingAge age)
    {
        DateTimeOffset Start(int daysAgo) => clock.EndOf(clock.Today.AddDays(-daysAgo - 1));
        return age switch
        {
            WaitingAge.Today => (Start(0), null),
            WaitingAge.Week => (Start(6), Start(0)),
            WaitingAge.Month => (Start(30), Start(6)),
            _ => (null, Start(30)),
        };
    }

    private static void Optional(NpgsqlCommand command, string name, object? value, NpgsqlDbType type) =>
        command.Parameters.Add(new NpgsqlParameter(name, type) { Value = value ?? DBNull.Value });
}
