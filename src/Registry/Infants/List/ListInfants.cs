using System.Globalization;
using System.Runtime.CompilerServices;
using Npgsql;
using Registry.Access;
using Registry.Infants.Statuses;
using Registry.Records;
using Registry.Rules;
using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.Infants.List;

/// <summary>One infant of a list. No name: a list needs none, the record shows it.</summary>
public sealed record InfantRow
{
    public required InfantId Id { get; init; }
    public required DateOnly BornOn { get; init; }
    public required string BirthSite { get; init; }
    public required string ResponsibleSite { get; init; }
    public required string? RecordNumber { get; init; }
    public required ScreeningConclusion Screening { get; init; }
    public required MilestoneState Screened { get; init; }
    public required MilestoneState Diagnosed { get; init; }
    public required MilestoneState Enrolled { get; init; }
    public required HearingConclusion Hearing { get; init; }
    public required DueStep? NextStep { get; init; }
    public required DateOnly? NextDueOn { get; init; }
    public required LossState Loss { get; init; }
    public required PathStep? LostAt { get; init; }
    public required StatusFlags Flags { get; init; }
    public required int ContactAttempts { get; init; }
    public required DateOnly? LastContactOn { get; init; }
    public required ContactOutcome? LastContact { get; init; }

    /// <summary>Where the list continues after this row.</summary>
    public required Position Position { get; init; }

    /// <summary>Days the next step is overdue on <paramref name="asOf"/>; negative when it lies ahead, null when nothing is due.</summary>
    public int? DaysOverdue(DateOnly asOf) => NextDueOn is { } due ? asOf.DayNumber - due.DayNumber : null;
}

/// <summary>The infants the viewer sees that match a filter, in order, page by page or all.</summary>
public sealed class ListInfants(NpgsqlDataSource source)
{
    public const int PageSize = 50;

    // Sort expressions by their public name. Each is total: an empty due date sorts last.
    private static readonly Dictionary<string, (string Expression, string Type)> Sorts = new()
    {
        ["born"] = ("s.born_on", "date"),
        ["due"] = ("coalesce(s.next_due_on, 'infinity'::date)", "date"),
        ["site"] = ("rs.name", "text"),
    };

    /// <summary>How many infants match.</summary>
    public async Task<long> CountAsync(StatusesAsOf statuses, InfantFilter filter, Viewer viewer, CancellationToken ct)
    {
        await using var command = source.CreateCommand();
        command.CommandText = $"select count(*) {From(command, statuses, filter, viewer)}";
        return (long)(await command.ExecuteScalarAsync(ct))!;
    }

    /// <summary>One page and the position of the next, null when there is none.</summary>
    public async Task<(IReadOnlyList<InfantRow> Rows, string? Next)> PageAsync(
        StatusesAsOf statuses, InfantFilter filter, Viewer viewer, string sort, string? after, CancellationToken ct)
    {
        var rows = new List<InfantRow>(PageSize + 1);
        await foreach (var row in ReadAsync(statuses, filter, viewer, sort, Position.Parse(after), PageSize + 1, ct)) rows.Add(row);
        if (rows.Count <= PageSize) return (rows, null);
        rows.RemoveAt(PageSize);
        return (rows, rows[^1].Position.ToString());
    }

    /// <summary>Every matching infant, streamed.</summary>
    public IAsyncEnumerable<InfantRow> AllAsync(
        StatusesAsOf statuses, InfantFilter filter, Viewer viewer, string sort, CancellationToken ct) =>
        ReadAsync(statuses, filter, viewer, sort, null, null, ct);

    private async IAsyncEnumerable<InfantRow> ReadAsync(
        StatusesAsOf statuses, InfantFilter filter, Viewer viewer, string sort, Position? after, int? limit,
        [EnumeratorCancellation] CancellationToken ct)
    {
        var descending = sort.StartsWith('-');
        var (expression, type) = Sorts.TryGetValue(sort.TrimStart('-'), out var known) ? known : Sorts["born"];
        var (order, comparison) = descending ? ("desc", "<") : ("asc", ">");
        await using var command = source.CreateCommand();
        var from = From(command, statuses, filter, viewer);
        if (after is { Value: { } value } position && IsValid(value, type))
        {
            from += $" and ({expression}, s.infant_id) {comparison} (@after_value::{type}, @after_id)";
            command.Parameters.AddWithValue("after_value", value);
            command.Parameters.AddWithValue("after_id", position.Id);
        }

        command.Parameters.AddWithValue("known", statuses.KnownAt.ToUniversalTime());
        command.Parameters.AddWithValue("own_site", (object?)viewer.SiteId?.Value ?? Guid.Empty);
        command.CommandText =
            $"""
            with page as (
              select s.*, bs.name as birth_site, rs.name as responsible_site, {expression} as sort_value
              {from}
              order by {expression} {order}, s.infant_id {order}
              {(limit is { } n ? $"limit {n.ToString(CultureInfo.InvariantCulture)}" : "")})
            select p.infant_id, p.born_on, p.birth_site, p.responsible_site, number.value, p.screening, p.screened_state,
                   p.diagnosed_state, p.enrolled_state, p.hearing, p.next_step, p.next_due_on, p.loss, p.lost_at, p.flags,
                   contact.attempts, contact.last_on, contact.last_outcome, p.sort_value::text
            from page p
            left join lateral (
              select i.value from infant_identifiers i
              where i.infant_id = p.infant_id and i.kind = 'record_number'
                and i.recorded_at <= @known and (i.superseded_at is null or i.superseded_at > @known)
              order by (i.site_id = @own_site) desc, (i.site_id = p.birth_site_id) desc, i.recorded_at, i.id limit 1) number on true
            left join lateral (
              select count(*)::int as attempts, max(c.attempted_on) as last_on,
                     (array_agg(c.outcome order by c.attempted_on desc, c.recorded_at desc))[1] as last_outcome
              from contacts c
              where c.infant_id = p.infant_id and c.attempted_on <= p.as_of
                and c.recorded_at <= @known and (c.superseded_at is null or c.superseded_at > @known)) contact on true
            order by p.sort_value {order}, p.infant_id {order}
            """;
        await using var reader = await command.ExecuteReaderAsync(ct);
        while (await reader.ReadAsync(ct)) yield return Read(reader);
    }

    private static string From(NpgsqlCommand command, StatusesAsOf statuses, InfantFilter filter, Viewer viewer)
    {
        Visibility.Bind(command, viewer);
        return $"""
            from {statuses.Relation} s
            join sites bs on bs.id = s.birth_site_id
            join sites rs on rs.id = s.responsible_site_id
            where {string.Join(" and ", filter.Conditions(command, statuses.AsOf).Prepend(Visibility.Where("s.infant_id")))}
            """;
    }

    private static bool IsValid(string value, string type) =>
        type == "text" || value == "infinity"
        || DateOnly.TryParseExact(value, "yyyy-MM-dd", CultureInfo.InvariantCulture, DateTimeStyles.None, out _);

    private static InfantRow Read(NpgsqlDataReader r) => new()
    {
        Id = new(r.GetGuid(0)),
        BornOn = r.GetFieldValue<DateOnly>(1),
        BirthSite = r.GetString(2),
        ResponsibleSite = r.GetString(3),
        RecordNumber = r.IsDBNull(4) ? null : r.GetString(4),
        Screening = Codes.Parse<ScreeningConclusion>(r.GetString(5)),
        Screened = Codes.Parse<MilestoneState>(r.GetString(6)),
        Diagnosed = Codes.Parse<MilestoneState>(r.GetString(7)),
        Enrolled = Codes.Parse<MilestoneState>(r.GetString(8)),
        Hearing = Codes.Parse<HearingConclusion>(r.GetString(9)),
        NextStep = r.IsDBNull(10) ? null : Codes.Parse<DueStep>(r.GetString(10)),
        NextDueOn = r.IsDBNull(11) ? null : r.GetFieldValue<DateOnly>(11),
        Loss = Codes.Parse<LossState>(r.GetString(12)),
        LostAt = r.IsDBNull(13) ? null : Codes.Parse<PathStep>(r.GetString(13)),
        Flags = (StatusFlags)r.GetInt32(14),
        ContactAttempts = r.GetInt32(15),
        LastContactOn = r.IsDBNull(16) ? null : r.GetFieldValue<DateOnly>(16),
        LastContact = r.IsDBNull(17) ? null : Codes.Parse<ContactOutcome>(r.GetString(17)),
        Position = new(r.GetString(18), r.GetGuid(0)),
    };
}
