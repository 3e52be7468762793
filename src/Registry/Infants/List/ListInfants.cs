using System.Globalization;
using System.Runtime.CompilerServices;
using Npgsql;
using NpgsqlTypes;
using Registry.Access;
using Registry.Infants.Statuses;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;
using Registry.Rules;
using Registry.Rules.Facts;

namespace Registry.Infants.List;

/// <summary>One infant of a list. No name: a list needs none, the record shows it.</summary>
public sealed record InfantRow
{
    public required InfantId Id { get; init; }
    public required DateOnly BornOn { get; init; }
    public required string BirthSite { get; init; }
    public required string ResponsibleSite { get; init; }

    /// <summary>Who is called about it.</summary>
    public required SiteContact Called { get; init; }
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

    /// <summary>Where the list continues after this row (<see cref="ListPosition"/>).</summary>
    public required string Position { get; init; }

    /// <summary>Days the next step is overdue on <paramref name="asOf"/>; negative when it lies ahead, null when nothing is due.</summary>
    public int? DaysOverdue(DateOnly asOf) => NextDueOn is { } due ? asOf.DayNumber - due.DayNumber : null;
}

/// <summary>The infants the viewer sees that match a filter, in order, page by page or all.</summary>
public sealed class ListInfants(ViewerDatabase data)
{
    public const int PageSize = 50;

    private static readonly string Sql = EmbeddedSql.Of<ListInfants>();

    // Sort expressions by their public name. Each is total: an empty due date sorts last.
    private static readonly Dictionary<string, (string Expression, string Type)> Sorts = new()
    {
        ["born"] = ("s.born_on", "date"),
        ["due"] = ("coalesce(s.next_due_on, 'infinity'::date)", "date"),
        ["site"] = ("rs.name", "text"),
    };

    /// <summary>How many infants match.</summary>
    /// <param name="statuses">The day.</param>
    /// <param name="filter">Which.</param>
    /// <param name="viewer">Who sees them.</param>
    /// <param name="most">Counts no further than this; null: all of them.</param>
    /// <param name="ct">Cancels.</param>
    public async Task<long> CountAsync(StatusesAsOf statuses, InfantFilter filter, Viewer viewer, long? most, CancellationToken ct)
    {
        await using var connection = await data.OpenAsync(viewer, ct);
        await using var command = connection.CreateCommand();
        command.CommandText = $"select count(*) from (select {From(command, statuses, filter, viewer)} limit @most) matching";
        command.Parameters.AddNullable("most", most, NpgsqlDbType.Bigint);
        return (long)(await command.ExecuteScalarAsync(ct))!;
    }

    /// <summary>Which infants match.</summary>
    public async Task<IReadOnlyList<InfantId>> IdsAsync(StatusesAsOf statuses, InfantFilter filter, Viewer viewer, CancellationToken ct)
    {
        await using var connection = await data.OpenAsync(viewer, ct);
        await using var command = connection.CreateCommand();
        command.CommandText = $"select s.infant_id {From(command, statuses, filter, viewer)}";
        await using var reader = await command.ExecuteReaderAsync(ct);
        var ids = new List<InfantId>();
        while (await reader.ReadAsync(ct)) ids.Add(new(reader.GetGuid(0)));
        return ids;
    }

    /// <summary>One page and the position of the next, null when there is none.</summary>
    public async Task<(IReadOnlyList<InfantRow> Rows, string? Next)> PageAsync(
        StatusesAsOf statuses, InfantFilter filter, Viewer viewer, string sort, string? after, CancellationToken ct)
    {
        var rows = new List<InfantRow>(PageSize + 1);
        await foreach (var row in ReadAsync(statuses, filter, viewer, sort, after, PageSize + 1, ct)) rows.Add(row);
        if (rows.Count <= PageSize) return (rows, null);
        rows.RemoveAt(PageSize);
        return (rows, rows[^1].Position);
    }

    /// <summary>Every matching infant, streamed.</summary>
    public IAsyncEnumerable<InfantRow> AllAsync(
        StatusesAsOf statuses, InfantFilter filter, Viewer viewer, string sort, CancellationToken ct) =>
        ReadAsync(statuses, filter, viewer, sort, null, null, ct);

    private async IAsyncEnumerable<InfantRow> ReadAsync(
        StatusesAsOf statuses, InfantFilter filter, Viewer viewer, string sort, string? after, int? limit,
        [EnumeratorCancellation] CancellationToken ct)
    {
        var descending = sort.StartsWith('-');
        var (expression, type) = Sorts.TryGetValue(sort.TrimStart('-'), out var known) ? known : Sorts["born"];
        var (order, comparison) = descending ? ("desc", "<") : ("asc", ">");
        await using var connection = await data.OpenAsync(viewer, ct);
        await using var command = connection.CreateCommand();
        var from = From(command, statuses, filter, viewer);
        if (ListPosition.Read(after, 2) is [{ } value, { } last] && IsValid(value, type) && Guid.TryParse(last, out var id))
        {
            from += $" and ({expression}, s.infant_id) {comparison} (@after_value::{type}, @after_id)";
            command.Parameters.AddWithValue("after_value", value);
            command.Parameters.AddWithValue("after_id", id);
        }

        command.Parameters.AddWithValue("known", statuses.KnownAt.ToUniversalTime());
        command.Parameters.AddWithValue("own_site", (object?)viewer.SiteId?.Value ?? Guid.Empty);
        command.Parameters.AddNullable("limit", limit, NpgsqlDbType.Integer);
        command.CommandText = Sql.Replace("{from}", from, StringComparison.Ordinal)
            .Replace("{sort}", expression, StringComparison.Ordinal).Replace("{order}", order, StringComparison.Ordinal);
        await using var reader = await command.ExecuteReaderAsync(ct);
        while (await reader.ReadAsync(ct)) yield return Read(reader);
    }

    /// <summary><c>from … where …</c>: the statuses <c>s</c> of matching infants the viewer sees, with birth site <c>bs</c> and
    /// responsible site <c>rs</c>; binds the values.</summary>
    /// <param name="joined">SQL joined to each status.</param>
    public static string From(NpgsqlCommand command, StatusesAsOf statuses, InfantFilter filter, Viewer viewer, string joined = "")
    {
        Visibility.Bind(command, viewer);
        return $"""
            from {statuses.Relation} s
            join sites bs on bs.id = s.birth_site_id
            join sites rs on rs.id = s.responsible_site_id
            {joined}
            where {string.Join(" and ", filter.Conditions(command, statuses.AsOf).Prepend(Visibility.Where("s.infant_id")))}
            """;
    }

    private static bool IsValid(string value, string type) =>
        type == "text" || value == "infinity"
        || DateOnly.TryParseExact(value, "yyyy-MM-dd", CultureInfo.InvariantCulture, DateTimeStyles.None, out _);

    private static InfantRow Read(NpgsqlDataReader r) => new()
    {
        Id = new(r.GetGuid(0)),
        BornOn = r.Date(1),
        BirthSite = r.GetString(2),
        ResponsibleSite = r.GetString(3),
        Called = new(r.GetString(3), r.TextOrNull(19), r.TextOrNull(20)),
        RecordNumber = r.TextOrNull(4),
        Screening = r.Code<ScreeningConclusion>(5),
        Screened = r.Code<MilestoneState>(6),
        Diagnosed = r.Code<MilestoneState>(7),
        Enrolled = r.Code<MilestoneState>(8),
        Hearing = r.Code<HearingConclusion>(9),
        NextStep = r.CodeOrNull<DueStep>(10),
        NextDueOn = r.ValueOrNull<DateOnly>(11),
        Loss = r.Code<LossState>(12),
        LostAt = r.CodeOrNull<PathStep>(13),
        Flags = (StatusFlags)r.GetInt32(14),
        ContactAttempts = r.GetInt32(15),
        LastContactOn = r.ValueOrNull<DateOnly>(16),
        LastContact = r.CodeOrNull<ContactOutcome>(17),
        Position = ListPosition.Of(r.GetString(18), r.GetGuid(0).ToString()),
    };
}
