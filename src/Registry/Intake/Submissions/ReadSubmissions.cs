using System.Globalization;
using System.Runtime.CompilerServices;
using System.Text.Json;
using Npgsql;
using NpgsqlTypes;
using Registry.Intake.Raw;
using Registry.Intake.Rows;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;
using Registry.Rules.Linkage;

namespace Registry.Intake.Submissions;

/// <summary>Reads submissions and their row outcomes. Whether the caller may see them is asked first, by the caller.</summary>
public sealed class ReadSubmissions(NpgsqlDataSource source)
{
    /// <summary>Rows read at a time where all are wanted.</summary>
    private const int PageRows = 1_000;

    private static readonly string OneSql = EmbeddedSql.Of<ReadSubmissions>("ReadSubmission");
    private static readonly string RowsSql = EmbeddedSql.Of<ReadSubmissions>("ReadRows");
    private static readonly string ReasonsSql = EmbeddedSql.Of<ReadSubmissions>("CountReasons");

    public async Task<SubmissionStatus?> StatusAsync(SubmissionId id, CancellationToken ct)
    {
        await using var command = source.CreateCommand(OneSql);
        command.Parameters.AddWithValue(id.Value);
        await using var reader = await command.ExecuteReaderAsync(ct);
        return await reader.ReadAsync(ct) ? SubmissionRecord.Read(reader) : null;
    }

    /// <summary>The person who sent it; null: a site's key.</summary>
    public async Task<Guid?> SentByAsync(SubmissionId id, CancellationToken ct)
    {
        await using var command = source.CreateCommand("select person_id from submissions where id = $1");
        command.Parameters.AddWithValue(id.Value);
        return await command.ExecuteScalarAsync(ct) as Guid?;
    }

    /// <summary>What a site sent under a key of its own; null: nothing.</summary>
    public async Task<SubmissionId?> OfKeyAsync(SiteId site, string key, CancellationToken ct)
    {
        await using var command = source.CreateCommand("select id from submissions where site_id = $1 and idempotency_key = $2");
        command.Parameters.AddWithValue(site.Value);
        command.Parameters.AddWithValue(key);
        return await command.ExecuteScalarAsync(ct) is Guid id ? new SubmissionId(id) : null;
    }

    /// <summary>The state of a submission that exists and, when it is finished and has at most so many rows, what became of
    /// each.</summary>
    public async Task<SubmissionAnswer> AnswerAsync(SubmissionId id, int mostRows, CancellationToken ct)
    {
        var status = (await StatusAsync(id, ct))!;
        if (!status.IsFinished || status.IsRefused || status.Rows > mostRows) return new(status, null);
        var rows = new List<RowReport>(status.Rows);
        await foreach (var row in AllRowsAsync(id, new(), ct)) rows.Add(row);
        return new(status, rows);
    }

    /// <summary>The raw bytes, as they were sent.</summary>
    public SubmissionStream Open(SubmissionStatus status) => new(source.CreateCommand, new(status.Id), status.Bytes);

    /// <summary>A page of the rows that fit.</summary>
    /// <param name="id">The submission.</param>
    /// <param name="filter">Which rows.</param>
    /// <param name="after">The row it begins after; 0 for the first page.</param>
    /// <param name="limit">Rows of a page.</param>
    /// <param name="ct">Cancels.</param>
    public async Task<RowPage> RowsAsync(SubmissionId id, RowFilter filter, int after, int limit, CancellationToken ct)
    {
        await using var command = source.CreateCommand(RowsSql);
        command.Parameters.AddWithValue(id.Value);
        command.Parameters.AddWithValue(after);
        command.Parameters.AddCode(filter.Outcome);
        command.Parameters.AddCode(filter.Kind);
        command.Parameters.AddCode(filter.HeldReason);
        command.Parameters.AddNullable(filter.Reason, NpgsqlDbType.Text);
        command.Parameters.AddNullable(filter.Field, NpgsqlDbType.Text);
        command.Parameters.AddWithValue(filter.Waiting);
        command.Parameters.AddWithValue(limit + 1);
        var rows = new List<RowReport>();
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct))
        {
            var problems = r.TextOrNull(5) is { } json ? JsonSerializer.Deserialize<List<Problem>>(json, JsonSerializerOptions.Web)! : [];
            rows.Add(new(r.GetInt32(0), r.GetInt32(1), r.TextOrNull(2), r.GetString(3), r.TextOrNull(4), problems)
            {
                InfantId = r.ValueOrNull<Guid>(6) is { } infant ? new InfantId(infant) : null,
                Content = r.TextOrNull(7) is { } kept ? RowContent.Open(kept) : null,
            });
        }

        if (rows.Count <= limit) return new(rows, null);
        rows.RemoveAt(limit);
        return new(rows, ListPosition.Of(rows[^1].Row.ToString(CultureInfo.InvariantCulture)));
    }

    /// <summary>All rows that fit, read page by page.</summary>
    public async IAsyncEnumerable<RowReport> AllRowsAsync(
        SubmissionId id, RowFilter filter, [EnumeratorCancellation] CancellationToken ct)
    {
        var after = 0;
        while (true)
        {
            var page = await RowsAsync(id, filter, after, PageRows, ct);
            foreach (var row in page.Rows) yield return row;
            if (page.Next is null) yield break;
            after = page.Rows[^1].Row;
        }
    }

    /// <summary>Rows by outcome, kind and reason, most frequent first; a row with two problems counts under both.</summary>
    public async Task<IReadOnlyList<ReasonCount>> ReasonsAsync(SubmissionId id, CancellationToken ct)
    {
        await using var command = source.CreateCommand(ReasonsSql);
        command.Parameters.AddWithValue(id.Value);
        var reasons = new List<ReasonCount>();
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct))
        {
            reasons.Add(new(r.Code<RowOutcome>(0), r.CodeOrNull<RowKind>(1), r.CodeOrNull<HoldReason>(2), r.TextOrNull(3), r.TextOrNull(4),
                r.GetInt32(5)));
        }

        return reasons;
    }

    /// <summary>The row a page begins after: 0 without a position, null when it is none of ours.</summary>
    public static int? After(string? position)
    {
        if (string.IsNullOrEmpty(position)) return 0;
        return ListPosition.Read(position, 1) is [var row]
            && int.TryParse(row, NumberStyles.None, CultureInfo.InvariantCulture, out var after) ? after : null;
    }
}
