using System.Runtime.CompilerServices;
using Npgsql;
using Registry.Intake.Applying;
using Registry.Intake.Rows;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Platform.Encryption;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Intake.HeldRows.Bulk;

/// <summary>How many rows of a bulk decision stand alike.</summary>
/// <param name="State">Whether it was decided.</param>
/// <param name="Outcome">The row's outcome now.</param>
/// <param name="Reason">Why it was not done, or could not be taken back.</param>
public sealed record BulkCount(BulkRowState State, RowOutcome Outcome, string? Reason, int Rows);

/// <summary>One row of it.</summary>
public sealed record BulkLine(SubmissionId SubmissionId, int Row, string SiteName, string Kind, RowOutcome Outcome, BulkRowState State,
    string? Reason);

/// <summary>Reads bulk decisions. Whether the caller may see one is asked first, by the caller.</summary>
public sealed class ReadBulkDecision(NpgsqlDataSource source)
{
    /// <returns>The decision and who decided; null when there is none of this id.</returns>
    public async Task<(BulkDecision Bulk, string? DecidedBy)?> FindAsync(Guid id, CancellationToken ct)
    {
        await using var connection = await source.OpenConnectionAsync(ct);
        return await FindAsync(connection, id, ct);
    }

    internal static async Task<(BulkDecision Bulk, string? DecidedBy)?> FindAsync(
        NpgsqlConnection connection, Guid id, CancellationToken ct)
    {
        await using var command = new NpgsqlCommand(EmbeddedSql.Of<ReadBulkDecision>(), connection);
        command.Parameters.AddWithValue(id);
        await using var r = await command.ExecuteReaderAsync(ct);
        if (!await r.ReadAsync(ct)) return null;
        var bulk = new BulkDecision
        {
            Id = r.GetGuid(0),
            SiteId = r.IsDBNull(1) ? null : new SiteId(r.GetGuid(1)),
            ChosenAt = r.Moment(2),
            ChosenBy = r.GetGuid(3),
            Kind = r.CodeOrNull<RowChangeKind>(4),
            DecidedAt = r.ValueOrNull<DateTimeOffset>(5),
            DecidedBy = r.ValueOrNull<Guid>(6),
            Field = r.TextOrNull(7),
            FromValue = FieldKeys.OfProcess.Decrypt(r.TextOrNull(8), "bulk_decisions.from_value"),
            ToValue = FieldKeys.OfProcess.Decrypt(r.TextOrNull(9), "bulk_decisions.to_value"),
            InfantId = r.IsDBNull(10) ? null : new InfantId(r.GetGuid(10)),
            UndoAskedAt = r.ValueOrNull<DateTimeOffset>(11),
            UndoAskedBy = r.ValueOrNull<Guid>(12),
        };
        return (bulk, r.TextOrNull(13));
    }

    public async Task<IReadOnlyList<BulkCount>> CountsAsync(Guid id, CancellationToken ct)
    {
        await using var command = Command(EmbeddedSql.Of<ReadBulkDecision>("CountBulkRows"), id);
        var counts = new List<BulkCount>();
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct))
            counts.Add(new(r.Code<BulkRowState>(0), r.Code<RowOutcome>(1), r.TextOrNull(2), r.GetInt32(3)));
        return counts;
    }

    /// <summary>Its rows, those that were not done first.</summary>
    public async Task<IReadOnlyList<BulkLine>> RowsAsync(Guid id, int skip, int take, CancellationToken ct)
    {
        await using var command = Command(EmbeddedSql.Of<ReadBulkDecision>("ListBulkRows"), id);
        command.Parameters.AddWithValue(skip);
        command.Parameters.AddWithValue(take);
        var lines = new List<BulkLine>();
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct))
            lines.Add(new(new(r.GetGuid(0)), r.GetInt32(1), r.GetString(2), r.GetString(3), r.Code<RowOutcome>(4),
                r.Code<BulkRowState>(5), r.TextOrNull(6)));
        return lines;
    }

    /// <summary>The kinds of its waiting rows (null: unknown), and the columns any of them states.</summary>
    public async Task<(IReadOnlyList<RowKind?> Kinds, IReadOnlyList<Field> Stated)> ColumnsAsync(Guid id, CancellationToken ct)
    {
        var (kinds, stated) = (new HashSet<RowKind?>(), new HashSet<Field>());
        await foreach (var row in ContentsAsync(id, ct))
        {
            var fields = RowContent.Fields(row.Content);
            kinds.Add(Codes.TryParse<RowKind>(fields.GetValueOrDefault(Field.Kind), out var kind) ? kind : null);
            stated.UnionWith(fields.Keys);
        }

        return ([.. kinds], [.. stated]);
    }

    /// <summary>What a column states in its waiting rows (empty: nothing), most first.</summary>
    public async Task<IReadOnlyList<(string Value, int Rows)>> ValuesAsync(Guid id, Field column, int most, CancellationToken ct)
    {
        var rows = new Dictionary<string, int>(StringComparer.Ordinal);
        await foreach (var row in ContentsAsync(id, ct))
        {
            var states = RowContent.Fields(row.Content).GetValueOrDefault(column, "");
            rows[states] = rows.GetValueOrDefault(states) + 1;
        }

        return [.. rows.OrderByDescending(v => v.Value).ThenBy(v => v.Key, StringComparer.Ordinal).Take(most)
            .Select(v => (v.Key, v.Value))];
    }

    /// <summary>Its waiting rows as they are kept, births first. They are encrypted in the database: what any of them says is counted
    /// here.</summary>
    public async IAsyncEnumerable<HeldContent> ContentsAsync(Guid id, [EnumeratorCancellation] CancellationToken ct)
    {
        await using var command = Command(EmbeddedSql.Of<ReadBulkDecision>("WaitingBulkRows"), id);
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct)) yield return HeldContent.Read(r);
    }

    private NpgsqlCommand Command(string sql, Guid id)
    {
        var command = source.CreateCommand(sql);
        command.Parameters.AddWithValue(id);
        return command;
    }
}
