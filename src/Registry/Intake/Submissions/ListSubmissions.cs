using System.Buffers.Text;
using System.Globalization;
using System.Text;
using Npgsql;
using NpgsqlTypes;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Intake.Submissions;

/// <summary>Which submissions; days are local calendar days of receipt.</summary>
public sealed record SubmissionFilter(SiteId? Site, SubmissionState? State, RowOutcome? With, DateTimeOffset? From, DateTimeOffset? Before);

public sealed record SubmissionLine(SubmissionStatus Status, string SiteName);

/// <summary>Lists submissions of one site, or with null of all.</summary>
public sealed class ListSubmissions(NpgsqlDataSource source)
{
    public const int PageSize = 50;

    public async Task<(IReadOnlyList<SubmissionLine> Lines, long Total, string? Next)> PageAsync(
        SubmissionFilter filter, string? after, CancellationToken ct)
    {
        const string where =
            """
            ($1::uuid is null or s.site_id = $1) and ($2::text is null or s.state = $2) and ($3::timestamptz is null or s.received_at >= $3)
               and ($4::timestamptz is null or s.received_at < $4)
               and ($5::text is null or case $5 when 'held' then s.held when 'rejected' then s.rejected when 'accepted' then s.accepted else s.unchanged end > 0)
            """;
        var position = Parse(after);
        await using var connection = await source.OpenConnectionAsync(ct);
        await using var count = new NpgsqlCommand($"select count(*) from submissions s where {where}", connection);
        Bind(count, filter);
        var total = (long)(await count.ExecuteScalarAsync(ct))!;
        await using var command = new NpgsqlCommand(
            $"""
            select s.id, s.state, s.row_count, s.rows_done, s.accepted, s.unchanged, s.rejected, s.held, s.received_at, s.finished_at, s.byte_count, s.sha256,
                   s.site_id, s.format, s.file_name, site.name
              from submissions s join sites site on site.id = s.site_id
             where {where} and ($6::timestamptz is null or (s.received_at, s.id) < ($6, $7))
             order by s.received_at desc, s.id desc limit {PageSize + 1}
            """, connection);
        Bind(command, filter);
        Add(command, position?.At, NpgsqlDbType.TimestampTz);
        Add(command, position?.Id, NpgsqlDbType.Uuid);
        var lines = new List<SubmissionLine>();
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct))
        {
            lines.Add(new(new SubmissionStatus(
                r.GetGuid(0), r.GetString(1), r.GetInt32(2), r.GetInt32(3), r.GetInt32(4), r.GetInt32(5), r.GetInt32(6), r.GetInt32(7),
                r.GetFieldValue<DateTimeOffset>(8), r.IsDBNull(9) ? null : r.GetFieldValue<DateTimeOffset>(9), r.GetInt64(10),
                Convert.ToHexStringLower(r.GetFieldValue<byte[]>(11)), [])
            {
                SiteId = new(r.GetGuid(12)),
                Read = new(Codes.Parse<SubmissionFormat>(r.GetString(13)), null),
                FileName = r.IsDBNull(14) ? null : r.GetString(14),
            }, r.GetString(15)));
        }

        if (lines.Count <= PageSize) return (lines, total, null);
        lines.RemoveAt(PageSize);
        var last = lines[^1].Status;
        return (lines, total, Base64Url.EncodeToString(
            Encoding.ASCII.GetBytes($"{last.ReceivedAt.UtcTicks.ToString(CultureInfo.InvariantCulture)}/{last.Id:N}")));
    }

    private static (DateTimeOffset At, Guid Id)? Parse(string? after)
    {
        if (string.IsNullOrEmpty(after) || !Base64Url.IsValid(after)) return null;
        var parts = Encoding.ASCII.GetString(Base64Url.DecodeFromChars(after)).Split('/');
        return parts.Length == 2 && long.TryParse(parts[0], NumberStyles.None, CultureInfo.InvariantCulture, out var ticks)
            && ticks <= DateTime.MaxValue.Ticks && Guid.TryParse(parts[1], out var id)
            ? (new DateTimeOffset(ticks, TimeSpan.Zero), id)
            : null;
    }

    private static void Bind(NpgsqlCommand command, SubmissionFilter filter)
    {
        Add(command, filter.Site?.Value, NpgsqlDbType.Uuid);
        Add(command, filter.State is { } state ? Codes.Of(state) : null, NpgsqlDbType.Text);
        Add(command, filter.From?.ToUniversalTime(), NpgsqlDbType.TimestampTz);
        Add(command, filter.Before?.ToUniversalTime(), NpgsqlDbType.TimestampTz);
        Add(command, filter.With is { } with ? Codes.Of(with) : null, NpgsqlDbType.Text);
    }

    private static void Add(NpgsqlCommand command, object? value, NpgsqlDbType type) =>
        command.Parameters.Add(new NpgsqlParameter { Value = value ?? DBNull.Value, NpgsqlDbType = type });
}
