using System.Buffers.Text;
using System.Globalization;
using System.Text;
using System.Text.Json;
using Npgsql;
using NpgsqlTypes;
using Registry.Intake.Formats;
using Registry.Intake.Rows;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Rules.Linkage;

namespace Registry.Intake.Submissions;

/// <summary>The state of a submission. Counts are rows by outcome; they grow while it is processed.</summary>
public sealed record SubmissionStatus(
    Guid Id, string State, int Rows, int RowsDone, int Accepted, int Unchanged, int Rejected, int Held,
    DateTimeOffset ReceivedAt, DateTimeOffset? FinishedAt, long Bytes, string Sha256, IReadOnlyList<FileProblem> Errors)
{
    /// <summary>How a text file's characters were read: as stated, else as detected. Null for a workbook, a message, a refused
    /// file.</summary>
    public string? Encoding => Read.Encoding is { } encoding ? Codes.Of(encoding) : null;

    /// <summary>The column mapping the file was read with, and its version; null when the columns are ours.</summary>
    public string? Mapping { get; init; }

    /// <summary>Whose it is; for authorisation and pages, not part of the answer.</summary>
    [System.Text.Json.Serialization.JsonIgnore] public SiteId SiteId { get; init; }
    [System.Text.Json.Serialization.JsonIgnore] public HowToRead Read { get; init; } = new(SubmissionFormat.Csv, null);
    [System.Text.Json.Serialization.JsonIgnore] public Guid? MappingId { get; init; }
    [System.Text.Json.Serialization.JsonIgnore] public SubmissionFormat Format => Read.Format;
    [System.Text.Json.Serialization.JsonIgnore] public string? FileName { get; init; }

    [System.Text.Json.Serialization.JsonIgnore] public bool IsFinished => State is "done" or "refused";
}

/// <summary>The answer to a submission: its state and, when it is finished and small, its rows.</summary>
public sealed record SubmissionAnswer(SubmissionStatus Submission, IReadOnlyList<RowReport>? Rows);

/// <summary>A page of rows; <c>next</c> leads to the following one and is null at the end.</summary>
public sealed record RowPage(IReadOnlyList<RowReport> Rows, string? Next);

/// <summary>Which rows of a submission. Field and reason pick rows with that problem; waiting leaves out what was discarded.</summary>
public sealed record RowFilter(RowOutcome? Outcome = null, RowKind? Kind = null, HoldReason? HeldReason = null, string? Field = null,
    string? Reason = null,
    bool Waiting = false);

/// <summary>How many rows share an outcome and a reason.</summary>
public sealed record ReasonCount(RowOutcome Outcome, RowKind? Kind, HoldReason? HeldReason, string? Field, string? Reason, int Rows);

/// <summary>Reads submissions and their row outcomes. Whether the caller may see them is asked first, by the caller.</summary>
public sealed class ReadSubmissions(NpgsqlDataSource source)
{
    public async Task<SubmissionStatus?> StatusAsync(SubmissionId id, CancellationToken ct)
    {
        await using var command = source.CreateCommand(
            """
            select id, state, row_count, rows_done, accepted, unchanged, rejected, held, received_at, finished_at, byte_count, sha256,
                   refusal::text, site_id, format, file_name, gzip, encoding, sheet,
                   (select concat(m.name, ', version ', m.version) from column_mapping_versions m where m.id = mapping_version_id),
                   (select m.mapping_id from column_mapping_versions m where m.id = mapping_version_id)
              from submissions where id = $1
            """);
        command.Parameters.AddWithValue(id.Value);
        await using var r = await command.ExecuteReaderAsync(ct);
        if (!await r.ReadAsync(ct)) return null;
        return new SubmissionStatus(
            r.GetGuid(0), r.GetString(1), r.GetInt32(2), r.GetInt32(3), r.GetInt32(4), r.GetInt32(5), r.GetInt32(6), r.GetInt32(7),
            r.GetFieldValue<DateTimeOffset>(8), r.IsDBNull(9) ? null : r.GetFieldValue<DateTimeOffset>(9), r.GetInt64(10),
            Convert.ToHexStringLower(r.GetFieldValue<byte[]>(11)),
            r.IsDBNull(12) ? [] : JsonSerializer.Deserialize<List<FileProblem>>(r.GetString(12), JsonSerializerOptions.Web)!)
        {
            SiteId = new(r.GetGuid(13)),
            Read = new(Codes.Parse<SubmissionFormat>(r.GetString(14)), null)
            {
                Gzip = r.GetBoolean(16),
                Encoding = r.IsDBNull(17) ? null : Codes.Parse<TextEncoding>(r.GetString(17)),
                Sheet = r.IsDBNull(18) ? null : r.GetString(18),
            },
            FileName = r.IsDBNull(15) ? null : r.GetString(15),
            Mapping = r.IsDBNull(19) ? null : r.GetString(19),
            MappingId = r.IsDBNull(20) ? null : r.GetGuid(20),
        };
    }

    public async Task<RowPage> RowsAsync(SubmissionId id, RowFilter filter, int after, int limit, CancellationToken ct)
    {
        await using var command = source.CreateCommand(
            """
            select r.row_number, r.line, r.kind, r.outcome, case when r.outcome = 'held' then h.reason end, r.problems::text, r.infant_id, r.content::text
              from submission_rows r
              left join held_rows h on h.submission_id = r.submission_id and h.row_number = r.row_number
             where r.submission_id = $1 and r.row_number > $2 and ($3 is null or r.outcome = $3) and ($4 is null or r.kind = $4)
               and ($5 is null or (r.outcome = 'held' and h.reason = $5))
               and ($6 is null or exists (select from jsonb_array_elements(r.problems) p
                                           where p ->> 'reason' = $6 and p ->> 'field' is not distinct from $7))
               and (not $9 or r.discarded_at is null)
             order by r.row_number limit $8
            """);
        command.Parameters.AddWithValue(id.Value);
        command.Parameters.AddWithValue(after);
        Optional(command, filter.Outcome is { } outcome ? Codes.Of(outcome) : null);
        Optional(command, filter.Kind is { } kind ? Codes.Of(kind) : null);
        Optional(command, filter.HeldReason is { } held ? Codes.Of(held) : null);
        Optional(command, filter.Reason);
        Optional(command, string.IsNullOrEmpty(filter.Field) ? null : filter.Field);
        command.Parameters.AddWithValue(limit + 1);
        command.Parameters.AddWithValue(filter.Waiting);
        var rows = new List<RowReport>();
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct))
        {
            rows.Add(new(
                r.GetInt32(0), r.GetInt32(1), r.IsDBNull(2) ? null : r.GetString(2), r.GetString(3), r.IsDBNull(4) ? null : r.GetString(4),
                r.IsDBNull(5) ? [] : JsonSerializer.Deserialize<List<Problem>>(r.GetString(5), JsonSerializerOptions.Web)!)
            {
                InfantId = r.IsDBNull(6) ? null : new InfantId(r.GetGuid(6)),
                Content = r.IsDBNull(7) ? null : r.GetString(7),
            });
        }

        if (rows.Count <= limit) return new(rows, null);
        rows.RemoveAt(limit);
        return new(rows, Position(rows[^1].Row));
    }

    /// <summary>Rows by outcome, kind and reason, most frequent first; a row with two problems counts under both.</summary>
    public async Task<IReadOnlyList<ReasonCount>> ReasonsAsync(SubmissionId id, CancellationToken ct)
    {
        await using var command = source.CreateCommand(
            """
            select r.outcome, r.kind, case when r.outcome = 'held' then h.reason end, p ->> 'field', p ->> 'reason', count(*)::int
              from submission_rows r
              left join held_rows h on h.submission_id = r.submission_id and h.row_number = r.row_number
              left join lateral jsonb_array_elements(r.problems) p on true
             where r.submission_id = $1 and r.outcome in ('rejected', 'held')
             group by 1, 2, 3, 4, 5 order by 6 desc, 1, 2, 3, 4, 5
            """);
        command.Parameters.AddWithValue(id.Value);
        var reasons = new List<ReasonCount>();
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct))
        {
            reasons.Add(new(
                Codes.Parse<RowOutcome>(r.GetString(0)), r.IsDBNull(1) ? null : Codes.Parse<RowKind>(r.GetString(1)),
                r.IsDBNull(2) ? null : Codes.Parse<HoldReason>(r.GetString(2)),
                r.IsDBNull(3) ? null : r.GetString(3), r.IsDBNull(4) ? null : r.GetString(4), r.GetInt32(5)));
        }

        return reasons;
    }

    /// <summary>An opaque position in a list of rows; null when the text is none of ours.</summary>
    public static int? After(string? position)
    {
        if (string.IsNullOrEmpty(position)) return 0;
        return Base64Url.IsValid(position)
            && Encoding.ASCII.GetString(Base64Url.DecodeFromChars(position)) is ['r', .. var row]
            && int.TryParse(row, NumberStyles.None, CultureInfo.InvariantCulture, out var after) ? after : null;
    }

    private static string Position(int row) => Base64Url.EncodeToString(
        Encoding.ASCII.GetBytes(string.Create(CultureInfo.InvariantCulture, $"r{row}")));

    private static void Optional(NpgsqlCommand command, string? value) =>
        command.Parameters.Add(new NpgsqlParameter { Value = (object?)value ?? DBNull.Value, NpgsqlDbType = NpgsqlDbType.Text });
}
