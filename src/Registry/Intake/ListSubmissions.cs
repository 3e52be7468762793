using System.Buffers.Text;
using System.Globalization;
using System.Text;
using Npgsql;
using NpgsqlTypes;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Rules.Linkage;

namespace Registry.Intake;

/// <summary>Which submissions; days are local calendar days of receipt.</summary>
public sealed record SubmissionFilter(SiteId? Site, SubmissionState? State, RowOutcome? With, DateTimeOffset? From, DateTimeOffset? Before);

public sealed record SubmissionLine(SubmissionStatus Status, string SiteName);

/// <summary>Held rows that wait for somebody, by site and reason.</summary>
public sealed record HeldCount(SiteId SiteId, string SiteName, HoldReason Reason, int Rows, DateTimeOffset Oldest);

public sealed record HeldLine(SubmissionId SubmissionId, int RowNumber, string SiteName, RowKind Kind, HoldReason Reason, DateTimeOffset HeldAt);

/// <summary>Lists submissions and held rows of one site, or with null of all.</summary>
public sealed class ListSubmissions(NpgsqlDataSource source)
{
    public const int PageSize = 50;

    public async Task<(IReadOnlyList<SubmissionLine> Lines, long Total, string? Next)> PageAsync(SubmissionFilter filter, string? after, CancellationToken ct)
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
        return (lines, total, Base64Url.EncodeToString(Encoding.ASCII.GetBytes($"{last.ReceivedAt.UtcTicks.ToString(CultureInfo.InvariantCulture)}/{last.Id:N}")));
    }

    /// <summary>Rows held and not settled, most first.</summary>
    public async Task<IReadOnlyList<HeldCount>> HeldCountsAsync(SiteId? site, CancellationToken ct)
    {
        await using var command = source.CreateCommand(
            """
            select h.site_id, s.name, h.reason, count(*)::int, min(h.held_at) from held_rows h join sites s on s.id = h.site_id
             where h.resolution is null and ($1::uuid is null or h.site_id = $1) group by 1, 2, 3 order by 4 desc, 2, 3
            """);
        Add(command, site?.Value, NpgsqlDbType.Uuid);
        var counts = new List<HeldCount>();
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct))
            counts.Add(new(new(r.GetGuid(0)), r.GetString(1), Codes.Parse<HoldReason>(r.GetString(2)), r.GetInt32(3), r.GetFieldValue<DateTimeOffset>(4)));
        return counts;
    }

    /// <summary>Held rows, oldest first.</summary>
    public async Task<(IReadOnlyList<HeldLine> Lines, string? Next)> HeldAsync(SiteId? site, HoldReason? reason, string? after, CancellationToken ct)
    {
        var position = Parse(after);
        await using var command = source.CreateCommand(
            $"""
            select h.submission_id, h.row_number, s.name, h.kind, h.reason, h.held_at from held_rows h join sites s on s.id = h.site_id
             where h.resolution is null and ($1::uuid is null or h.site_id = $1) and ($2::text is null or h.reason = $2)
               and ($3::timestamptz is null or (h.held_at, h.submission_id, h.row_number) > ($3, $4, $5))
             order by h.held_at, h.submission_id, h.row_number limit {PageSize + 1}
            """);
        Add(command, site?.Value, NpgsqlDbType.Uuid);
        Add(command, reason is { } only ? Codes.Of(only) : null, NpgsqlDbType.Text);
        Add(command, position?.At, NpgsqlDbType.TimestampTz);
        Add(command, position?.Id, NpgsqlDbType.Uuid);
        Add(command, position?.Row, NpgsqlDbType.Integer);
        var lines = new List<HeldLine>();
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct))
        {
            lines.Add(new(new(r.GetGuid(0)), r.GetInt32(1), r.GetString(2), Codes.Parse<RowKind>(r.GetString(3)), Codes.Parse<HoldReason>(r.GetString(4)),
                r.GetFieldValue<DateTimeOffset>(5)));
        }

        if (lines.Count <= PageSize) return (lines, null);
        lines.RemoveAt(PageSize);
        var last = lines[^1];
        return (lines, Base64Url.EncodeToString(Encoding.ASCII.GetBytes(
            string.Create(CultureInfo.InvariantCulture, $"{last.HeldAt.UtcTicks}/{last.SubmissionId.Value:N}/{last.RowNumber}"))));
    }

    /// <summary>The sites, for a filter.</summary>
    public async Task<IReadOnlyList<(SiteId Id, string Code, string Name)>> SitesAsync(CancellationToken ct)
    {
        await using var command = source.CreateCommand("select id, code, name from sites order by name");
        var sites = new List<(SiteId, string, string)>();
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct)) sites.Add((new(r.GetGuid(0)), r.GetString(1), r.GetString(2)));
        return sites;
    }

    private static (DateTimeOffset At, Guid Id, int Row)? Parse(string? after)
    {
        if (string.IsNullOrEmpty(after) || !Base64Url.IsValid(after)) return null;
        var parts = Encoding.ASCII.GetString(Base64Url.DecodeFromChars(after)).Split('/');
        return parts.Length is 2 or 3 && long.TryParse(parts[0], NumberStyles.None, CultureInfo.InvariantCulture, out var ticks)
            && ticks <= DateTime.MaxValue.Ticks && Guid.TryParse(parts[1], out var id)
            ? (new DateTimeOffset(ticks, TimeSpan.Zero), id, parts.Length == 3 && int.TryParse(parts[2], NumberStyles.None, CultureInfo.InvariantCulture, out var row) ? row : 0)
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
