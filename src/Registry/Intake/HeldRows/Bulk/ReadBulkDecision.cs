using Npgsql;
using Registry.Intake.Applying;
using Registry.Intake.Rows;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Intake.HeldRows.Bulk;

/// <summary>How many rows of a bulk decision stand alike.</summary>
/// <param name="State">Whether it was decided.</param>
/// <param name="Outcome">The row's outcome now.</param>
/// <param name="Reason">Why it was not done, or could not be undone.</param>
public sealed record BulkCount(BulkRowState State, RowOutcome Outcome, string? Reason, int Rows);

/// <summary>One row of it.</summary>
public sealed record BulkLine(SubmissionId SubmissionId, int Row, string SiteName, string Kind, RowOutcome Outcome, BulkRowState State,
    string? Reason);

/// <summary>Reads bulk decisions. Whether the caller may see one is asked first, by the caller.</summary>
public sealed class ReadBulkDecision(NpgsqlDataSource source)
{
    public async Task<IReadOnlyList<BulkCount>> CountsAsync(Guid id, CancellationToken ct)
    {
        await using var command = source.CreateCommand(
            """
            select b.state, r.outcome, b.reason, count(*)::int from bulk_rows b join submission_rows r using (submission_id, row_number)
             where b.bulk_id = $1 group by 1, 2, 3 order by 4 desc, 1, 2, 3
            """);
        command.Parameters.AddWithValue(id);
        var counts = new List<BulkCount>();
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct))
            counts.Add(new(Codes.Parse<BulkRowState>(r.GetString(0)), Codes.Parse<RowOutcome>(r.GetString(1)),
                r.IsDBNull(2) ? null : r.GetString(2), r.GetInt32(3)));
        return counts;
    }

    /// <summary>Its rows, those that were not done first.</summary>
    public async Task<IReadOnlyList<BulkLine>> RowsAsync(Guid id, int skip, int take, CancellationToken ct)
    {
        await using var command = source.CreateCommand(
            """
            select b.submission_id, b.row_number, site.name, coalesce(r.kind, 'unknown'), r.outcome, b.state, b.reason
              from bulk_rows b join submission_rows r using (submission_id, row_number)
              join submissions s on s.id = b.submission_id join sites site on site.id = s.site_id
             where b.bulk_id = $1 order by b.reason is null, b.ordinal offset $2 limit $3
            """);
        command.Parameters.AddWithValue(id);
        command.Parameters.AddWithValue(skip);
        command.Parameters.AddWithValue(take);
        var lines = new List<BulkLine>();
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct))
        {
            lines.Add(new(
                new(r.GetGuid(0)), r.GetInt32(1), r.GetString(2), r.GetString(3), Codes.Parse<RowOutcome>(r.GetString(4)),
                Codes.Parse<BulkRowState>(r.GetString(5)),
                r.IsDBNull(6) ? null : r.GetString(6)));
        }

        return lines;
    }

    /// <summary>The kinds of its waiting rows (null: unknown), and the columns any of them states.</summary>
    public async Task<(IReadOnlyList<RowKind?> Kinds, IReadOnlyList<Field> Stated)> ColumnsAsync(Guid id, CancellationToken ct)
    {
        await using var command = source.CreateCommand(
            $"""
            with waiting as (select r.content {Waiting})
            select distinct content ->> 'kind', null from waiting
            union all select null, * from (select distinct k from waiting, jsonb_object_keys(content) k) s
            """);
        command.Parameters.AddWithValue(id);
        var (kinds, stated) = (new List<RowKind?>(), new List<Field>());
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct))
        {
            if (r.IsDBNull(1)) kinds.Add(!r.IsDBNull(0) && Codes.TryParse<RowKind>(r.GetString(0), out var kind) ? kind : null);
            else if (Codes.TryParse<Field>(r.GetString(1), out var field)) stated.Add(field);
        }

        return (kinds, stated);
    }

    /// <summary>What a column states in its waiting rows (empty: nothing), most first.</summary>
    public async Task<IReadOnlyList<(string Value, int Rows)>> ValuesAsync(Guid id, Field column, int most, CancellationToken ct)
    {
        await using var command = source.CreateCommand(
            $"select coalesce(r.content ->> $2, ''), count(*)::int {Waiting} group by 1 order by 2 desc, 1 limit $3");
        command.Parameters.AddWithValue(id);
        command.Parameters.AddWithValue(Codes.Of(column));
        command.Parameters.AddWithValue(most);
        var values = new List<(string, int)>();
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct)) values.Add((r.GetString(0), r.GetInt32(1)));
        return values;
    }

    private const string Waiting =
        """
          from bulk_rows b join submission_rows r using (submission_id, row_number) join submissions s on s.id = b.submission_id
         where b.bulk_id = $1 and r.outcome in ('held', 'rejected') and r.discarded_at is null
        """;

    /// <summary>The rows as they are, to see what a correction would make of them.</summary>
    public async Task<IReadOnlyList<HeldContent>> ContentsAsync(Guid id, CancellationToken ct)
    {
        await using var command = source.CreateCommand(
            $"select r.submission_id, r.row_number, s.site_id, s.received_at, r.content::text, r.line, r.problems::text {Waiting} order "
                + "by b.ordinal");
        command.Parameters.AddWithValue(id);
        var contents = new List<HeldContent>();
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct))
        {
            contents.Add(new(new(r.GetGuid(0)), r.GetInt32(1), new(r.GetGuid(2)), r.GetFieldValue<DateTimeOffset>(3), r.GetString(4),
                r.GetInt32(5))
            {
                FoundByReader = ProblemsJson.FoundByReader(r.IsDBNull(6) ? null : r.GetString(6)),
            });
        }

        return contents;
    }
}
