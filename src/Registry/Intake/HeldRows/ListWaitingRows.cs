using System.Buffers.Text;
using System.Globalization;
using System.Runtime.CompilerServices;
using System.Text;
using System.Text.Json;
using Npgsql;
using NpgsqlTypes;
using Registry.Intake.Rows;
using Registry.Platform;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Rules.Linkage;

namespace Registry.Intake.HeldRows;

/// <summary>How long a row waits, in calendar days since it was received: none, up to 6, up to 30, more (own choice).</summary>
public enum WaitingAge { Today, Week, Month, Older }

/// <summary>Which waiting rows; null is any. A kind that could not be read is <c>unknown</c>. Field and reason pick rows with that
/// problem.</summary>
public sealed record WaitingFilter(
    SiteId? Site, SubmissionId? Submission = null, RowOutcome? Outcome = null, string? Kind = null, HoldReason? Hold = null,
    string? Field = null,
    string? Reason = null, WaitingAge? Age = null);

public sealed record WaitingLine(
    SubmissionId SubmissionId, int Row, int Line, RowKind? Kind, RowOutcome Outcome, SiteId SiteId, string SiteName, DateTimeOffset Since,
    HoldReason? Hold,
    IReadOnlyList<Problem> Problems);

/// <summary>A site's waiting rows by how long they wait.</summary>
public sealed record WaitingSite(SiteId SiteId, string Code, string Name, IReadOnlyDictionary<WaitingAge, int> Rows);

/// <summary>What rows have alike: one site and kind, one reason.</summary>
public sealed record WaitingGroup(string SiteCode, string SiteName, string Kind, RowOutcome Outcome, HoldReason? Hold, string? Field,
    string? Reason);

/// <summary>The waiting rows in numbers. In the groups, most rows first, a row with two problems counts under both.</summary>
public sealed record WaitingOverview(int Total, IReadOnlyList<WaitingSite> Sites, IReadOnlyList<(WaitingGroup Group, int Rows)> Groups);

/// <summary>Lists the rows that wait for a person: of one site, or with null of all. It shows no value of a row.</summary>
public sealed class ListWaitingRows(NpgsqlDataSource source, ProgramClock clock)
{
    public const int PageSize = 50;
    internal static readonly string Sql = EmbeddedSql.Of<ListWaitingRows>("WaitingRows");

    /// <summary>A page, oldest first, after a position of an earlier page (null or unreadable: the first), and the position of its end when
    /// more follow.</summary>
    public async Task<(IReadOnlyList<WaitingLine> Lines, string? Next)> PageAsync(WaitingFilter filter, string? after, CancellationToken ct)
    {
        var lines = new List<WaitingLine>();
        await foreach (var line in ReadAsync(filter, Parse(after), PageSize + 1, ct)) lines.Add(line);
        if (lines.Count <= PageSize) return (lines, null);
        lines.RemoveAt(PageSize);
        return (lines, PositionOf(lines[^1]));
    }

    /// <summary>All of them, oldest first, as they are read: none is held in memory.</summary>
    public IAsyncEnumerable<WaitingLine> AllAsync(WaitingFilter filter, CancellationToken ct) => ReadAsync(filter, null, null, ct);

    private async IAsyncEnumerable<WaitingLine> ReadAsync(
        WaitingFilter filter, (DateTimeOffset Since, Guid Id, int Row)? after, int? take, [EnumeratorCancellation] CancellationToken ct)
    {
        await using var command = source.CreateCommand(
            $"""
            with waiting as ({Sql})
            select w.*, site.name from waiting w join sites site on site.id = w.site_id
             where @after_since::timestamptz is null or (w.since, w.submission_id, w.row_number) > (@after_since, @after_id, @after_row)
             order by w.since, w.submission_id, w.row_number limit @take
            """);
        Bind(command, filter);
        Optional(command, "after_since", after?.Since, NpgsqlDbType.TimestampTz);
        Optional(command, "after_id", after?.Id, NpgsqlDbType.Uuid);
        Optional(command, "after_row", after?.Row, NpgsqlDbType.Integer);
        Optional(command, "take", take, NpgsqlDbType.Integer);
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct))
        {
            yield return new(
                new(r.GetGuid(0)), r.GetInt32(1), r.GetInt32(2), r.IsDBNull(3)
                    ? null : Codes.Parse<RowKind>(r.GetString(3)), Codes.Parse<RowOutcome>(r.GetString(4)),
                new(r.GetGuid(5)), r.GetString(9), r.GetFieldValue<DateTimeOffset>(6), r.IsDBNull(7)
                    ? null : Codes.Parse<HoldReason>(r.GetString(7)),
                r.IsDBNull(8) ? [] : Problems(r.GetString(8)));
        }
    }

    /// <summary>How many rows wait, by site and age (whatever age the filter names), by what they have alike, and in all.</summary>
    public async Task<WaitingOverview> OverviewAsync(WaitingFilter filter, CancellationToken ct)
    {
        await using var command = source.CreateCommand(
            $"""
            with waiting as ({Sql})
            select site.id, site.code, site.name, case when w.since >= @today then 0 when w.since >= @week then 1 when w.since >= @month then 2 else 3 end,
                   coalesce(w.kind, 'unknown'), w.outcome, w.hold, case when w.outcome = 'rejected' then w.problems end, count(*)::int
              from waiting w join sites site on site.id = w.site_id
             group by 1, 2, 3, 4, 5, 6, 7, 8
            """);
        Bind(command, filter with { Age = null });
        command.Parameters.AddWithValue("today", Start(0).ToUniversalTime());
        command.Parameters.AddWithValue("week", Start(6).ToUniversalTime());
        command.Parameters.AddWithValue("month", Start(30).ToUniversalTime());
        var sites = new Dictionary<Guid, (string Code, string Name, Dictionary<WaitingAge, int> Rows)>();
        var groups = new Dictionary<WaitingGroup, int>();
        var total = 0;
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct))
        {
            var (code, name, age, rows) = (r.GetString(1), r.GetString(2), (WaitingAge)r.GetInt32(3), r.GetInt32(8));
            if (!sites.TryGetValue(r.GetGuid(0), out var site))
                sites[r.GetGuid(0)] = site = (code, name, Enum.GetValues<WaitingAge>().ToDictionary(a => a, _ => 0));
            site.Rows[age] += rows;
            if (filter.Age is { } only && only != age) continue;
            total += rows;
            var outcome = Codes.Parse<RowOutcome>(r.GetString(5));
            HoldReason? hold = r.IsDBNull(6) ? null : Codes.Parse<HoldReason>(r.GetString(6));
            foreach (var problem in r.IsDBNull(7) ? [default] : Problems(r.GetString(7)))
            {
                var group = new WaitingGroup(code, name, r.GetString(4), outcome, hold, problem.Field, problem.Reason);
                groups[group] = groups.GetValueOrDefault(group) + rows;
            }
        }

        return new(
            total,
            [.. sites.Select(s => new WaitingSite(new(s.Key), s.Value.Code, s.Value.Name, s.Value.Rows))
                .OrderBy(s => s.Name, StringComparer.CurrentCulture)],
            [.. groups.OrderByDescending(g => g.Value).ThenBy(g => g.Key.SiteName).ThenBy(g => g.Key.Kind).ThenBy(g => g.Key.Outcome)
                .ThenBy(g => g.Key.Reason, StringComparer.Ordinal).Select(g => (g.Key, g.Value))]);
    }

    /// <summary>How many rows wait, held and rejected.</summary>
    public async Task<(int Held, int Rejected)> CountAsync(WaitingFilter filter, CancellationToken ct)
    {
        await using var command = source.CreateCommand(
            $"with waiting as ({Sql}) select count(*) filter (where outcome = 'held')::int, count(*) filter (where outcome = "
                + "'rejected')::int from waiting");
        Bind(command, filter);
        await using var r = await command.ExecuteReaderAsync(ct);
        await r.ReadAsync(ct);
        return (r.GetInt32(0), r.GetInt32(1));
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

    /// <summary>The beginning of the local day so many days ago.</summary>
    private DateTimeOffset Start(int daysAgo) => clock.EndOf(clock.Today.AddDays(-daysAgo - 1));

    private (DateTimeOffset? From, DateTimeOffset? Before) Bounds(WaitingAge age) => age switch
    {
        WaitingAge.Today => (Start(0), null),
        WaitingAge.Week => (Start(6), Start(0)),
        WaitingAge.Month => (Start(30), Start(6)),
        _ => (null, Start(30)),
    };

    private static List<Problem> Problems(string json) => JsonSerializer.Deserialize<List<Problem>>(json, JsonSerializerOptions.Web)!;

    private static string PositionOf(WaitingLine line) => Base64Url.EncodeToString(Encoding.ASCII.GetBytes(
        string.Create(CultureInfo.InvariantCulture, $"{line.Since.UtcTicks}/{line.SubmissionId.Value:N}/{line.Row}")));

    private static (DateTimeOffset Since, Guid Id, int Row)? Parse(string? after)
    {
        if (string.IsNullOrEmpty(after) || !Base64Url.IsValid(after)) return null;
        var parts = Encoding.ASCII.GetString(Base64Url.DecodeFromChars(after)).Split('/');
        return parts.Length == 3 && long.TryParse(parts[0], NumberStyles.None, CultureInfo.InvariantCulture, out var ticks)
            && ticks <= DateTime.MaxValue.Ticks
            && Guid.TryParse(parts[1], out var id) && int.TryParse(parts[2], NumberStyles.None, CultureInfo.InvariantCulture, out var row)
            ? (new(ticks, TimeSpan.Zero), id, row)
            : null;
    }

    private static void Optional(NpgsqlCommand command, string name, object? value, NpgsqlDbType type) =>
        command.Parameters.Add(new NpgsqlParameter(name, type) { Value = value ?? DBNull.Value });
}
