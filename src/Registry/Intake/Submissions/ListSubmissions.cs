using Npgsql;
using NpgsqlTypes;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;

namespace Registry.Intake.Submissions;

/// <summary>Which submissions; null is any. Days are local calendar days of receipt.</summary>
public sealed record SubmissionFilter(SiteId? Site, SubmissionState? State, RowOutcome? With, DateTimeOffset? From, DateTimeOffset? Before);

public sealed record SubmissionLine(SubmissionStatus Status, string SiteName);

/// <summary>A page of submissions; <c>Next</c> leads to the following one and is null at the end.</summary>
public sealed record ListedSubmissions(IReadOnlyList<SubmissionLine> Lines, long Total, string? Next);

/// <summary>Lists submissions, newest first: of one site, or with null of all.</summary>
public sealed class ListSubmissions(NpgsqlDataSource source)
{
    public const int PageSize = 50;

    private static readonly string Sql = EmbeddedSql.Of<ListSubmissions>();

    /// <param name="filter">Which of them.</param>
    /// <param name="after">The position an earlier page gave out; null or unreadable: the first page.</param>
    /// <param name="ct">Cancels.</param>
    public async Task<ListedSubmissions> PageAsync(SubmissionFilter filter, string? after, CancellationToken ct)
    {
        await using var connection = await source.OpenConnectionAsync(ct);
        await using var count = new NpgsqlCommand($"select count(*) from ({Sql}) fits", connection);
        Bind(count, filter);
        var total = (long)(await count.ExecuteScalarAsync(ct))!;
        await using var command = new NpgsqlCommand(
            $"select * from ({Sql}) fits where $6::timestamptz is null or (received_at, id) < ($6, $7) "
                + $"order by received_at desc, id desc limit {PageSize + 1}", connection);
        Bind(command, filter);
        var (at, id) = Read(after);
        command.Parameters.AddNullable(at, NpgsqlDbType.TimestampTz);
        command.Parameters.AddNullable(id, NpgsqlDbType.Uuid);
        var lines = new List<SubmissionLine>();
        await using var reader = await command.ExecuteReaderAsync(ct);
        while (await reader.ReadAsync(ct)) lines.Add(new(SubmissionRecord.Read(reader), reader.GetString(SubmissionRecord.ColumnCount)));
        if (lines.Count <= PageSize) return new(lines, total, null);
        lines.RemoveAt(PageSize);
        var last = lines[^1].Status;
        return new(lines, total, ListPosition.Of(ListPosition.Moment(last.ReceivedAt), last.Id.ToString()));
    }

    private static (DateTimeOffset? At, Guid? Id) Read(string? after) =>
        ListPosition.Read(after, 2) is [var moment, var text] && ListPosition.Moment(moment) is { } at && Guid.TryParse(text, out var id)
            ? (at, id) : (null, null);

    private static void Bind(NpgsqlCommand command, SubmissionFilter filter)
    {
        command.Parameters.AddNullable(filter.Site?.Value, NpgsqlDbType.Uuid);
        command.Parameters.AddCode(filter.State);
        command.Parameters.AddNullable(filter.From?.ToUniversalTime(), NpgsqlDbType.TimestampTz);
        command.Parameters.AddNullable(filter.Before?.ToUniversalTime(), NpgsqlDbType.TimestampTz);
        command.Parameters.AddCode(filter.With);
    }
}
