using Npgsql;
using NpgsqlTypes;
using Registry.Intake.Applying;
using Registry.Intake.Rows;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Rules.Linkage;

namespace Registry.Intake.HeldRows;

/// <summary>Who decides.</summary>
/// <param name="PersonId">The person.</param>
/// <param name="BulkId">The bulk decision this is part of.</param>
/// <param name="Seen">The row's last change as the person saw it (0: none); null: whatever it is.</param>
public readonly record struct Decider(Guid PersonId, Guid? BulkId = null, long? Seen = null)
{
    /// <summary>Of a bulk decision: gathers the infants it touches; rows that wait for them are tried again at its end.</summary>
    public HashSet<Guid>? Together { get; init; }
}

/// <summary>
/// A held or rejected row as a decision finds it, locked until the transaction ends: the held row first, then the row, as every other
/// writer of the two does.
/// </summary>
/// <param name="Content">The row as it is kept.</param>
/// <param name="Outcome">Its outcome.</param>
/// <param name="Waits">It waits for a person.</param>
/// <param name="InfantId">The infant it was applied to.</param>
/// <param name="LastChange">The last entry of its history; 0 when there is none.</param>
/// <param name="Last">What happened to it last.</param>
internal sealed record LockedRow(
    HeldContent Content, RowOutcome Outcome, bool Waits, Guid? InfantId, long LastChange, LastEvent Last)
{
    internal const string DiscardReason = "discarded: not to be used";

    private static readonly string LockSql = EmbeddedSql.Of<LockedRow>("LockRow");
    private static readonly string RememberSql = EmbeddedSql.Of<LockedRow>("RememberChange");
    private static readonly string MarkBulkRowSql = EmbeddedSql.Of<LockedRow>("MarkBulkRowDone");
    private static readonly string WriteSql = EmbeddedSql.Of<LockedRow>("WriteRow");

    public SubmissionId Id => Content.SubmissionId;
    public int Row => Content.RowNumber;

    /// <summary>Locks a row that waits for a person.</summary>
    /// <exception cref="RefusedException">It waits no more, or was changed since the person looked.</exception>
    public static async Task<LockedRow> WaitingAsync(NpgsqlConnection connection, SubmissionId id, int row, Decider by,
        CancellationToken ct)
    {
        var locked = await LockAsync(connection, id, row, ct);
        if (!locked.Waits) throw locked.Refused(WhyRefused.WaitsNoMore);
        if (by.Seen is { } seen && seen != locked.LastChange)
            throw locked.Refused(by.BulkId is null ? WhyRefused.ChangedSinceOpened : WhyRefused.ChangedSinceChosen);
        return locked;
    }

    /// <summary>Locks a row whatever its state.</summary>
    /// <exception cref="RefusedException">There is none.</exception>
    public static async Task<LockedRow> LockAsync(NpgsqlConnection connection, SubmissionId id, int row, CancellationToken ct)
    {
        await using var batch = new NpgsqlBatch(connection);
        batch.BatchCommands.Add(Command("select from held_rows where submission_id = $1 and row_number = $2 for update", id, row));
        batch.BatchCommands.Add(Command(LockSql, id, row));
        await using var r = await batch.ExecuteReaderAsync(ct);
        await r.NextResultAsync(ct);
        if (!await r.ReadAsync(ct)) throw new RefusedException(WhyRefused.NoSuchRow);
        return new(HeldContent.Read(r), r.Code<RowOutcome>(7), r.GetBoolean(8), r.ValueOrNull<Guid>(9),
            r.ValueOrNull<long>(10) ?? 0, ReadLast(r));
    }

    /// <summary>What happened to it instead of what the person wants.</summary>
    public RefusedException Refused(WhyRefused why) => new(new RowRefusal(why) { Since = Last });

    /// <summary>Writes what a person made of the row: its history, its outcome, whether it waits, its submission's counts.</summary>
    /// <param name="connection">In a transaction that holds the lock.</param>
    /// <param name="result">What became of it.</param>
    /// <param name="kind">What the person did.</param>
    /// <param name="content">The row as corrected, in JSON and read; null leaves it.</param>
    /// <param name="by">The person.</param>
    /// <param name="at">The moment of the decision.</param>
    /// <param name="ct">Cancels.</param>
    public async Task WriteAsync(
        NpgsqlConnection connection, AppliedRow result, RowChangeKind kind, (string Json, ReportedRow Row)? content, Decider by,
        DateTimeOffset at, CancellationToken ct)
    {
        await using var batch = new NpgsqlBatch(connection);
        batch.BatchCommands.Add(Remember(kind, at, by));
        if (by.BulkId is { } bulk) batch.BatchCommands.Add(MarkDoneOf(bulk));
        batch.BatchCommands.Add(Write(result, kind, content, at));
        batch.BatchCommands.Add(result.Outcome == RowOutcome.Held && content is { Row: var row }
            ? Hold(result, row) : Resolve(kind, by, at));
        if (result.Leans && content is { Row: var leaning }) AddLeaning(batch, result, leaning, kind, by, at);
        if (Count(Outcome, result.Outcome) is { } count) batch.BatchCommands.Add(count);
        await batch.ExecuteNonQueryAsync(ct);
        if (result.Leans) await LeaningRows.CompareAsync(connection, [(Id, Row)], ct);
    }

    /// <summary>A corrected row need not have waited before.</summary>
    private void AddLeaning(
        NpgsqlBatch batch, AppliedRow result, ReportedRow row, RowChangeKind kind, Decider by, DateTimeOffset at)
    {
        batch.BatchCommands.Add(Hold(result with { Hold = HoldReason.SeveralCandidates }, row));
        batch.BatchCommands.Add(Resolve(kind, by, at));
        batch.BatchCommands.Add(Command("update held_rows set leans_on = '' where submission_id = $1 and row_number = $2", Id, Row));
    }

    /// <summary>Appends to the row's history, with the row as it is before the rest of the batch.</summary>
    public NpgsqlBatchCommand Remember(RowChangeKind kind, DateTimeOffset at, Decider by, long? takesBack = null)
    {
        var command = Command(RememberSql, Id, Row);
        command.Parameters.AddWithValue(Codes.Of(kind));
        command.Parameters.AddWithValue(at.ToUniversalTime());
        command.Parameters.AddWithValue(by.PersonId);
        command.Parameters.AddNullable(by.BulkId, NpgsqlDbType.Uuid);
        command.Parameters.AddNullable(takesBack, NpgsqlDbType.Bigint);
        return command;
    }

    /// <summary>The submission's counts follow the row; null when its outcome stays.</summary>
    public NpgsqlBatchCommand? Count(RowOutcome from, RowOutcome to)
    {
        if (from == to) return null;
        // The outcomes' codes are the columns' names.
        var command = new NpgsqlBatchCommand(
            $"update submissions set {Codes.Of(from)} = {Codes.Of(from)} - 1, {Codes.Of(to)} = {Codes.Of(to)} + 1 where id = $1");
        command.Parameters.AddWithValue(Id.Value);
        return command;
    }

    /// <summary>A statement whose first two parameters are a row.</summary>
    internal static NpgsqlBatchCommand Command(string sql, SubmissionId id, int row)
    {
        var command = new NpgsqlBatchCommand(sql);
        command.Parameters.AddWithValue(id.Value);
        command.Parameters.AddWithValue(row);
        return command;
    }

    private NpgsqlBatchCommand MarkDoneOf(Guid bulk)
    {
        var command = Command(MarkBulkRowSql, Id, Row);
        command.Parameters.AddWithValue(bulk);
        return command;
    }

    private NpgsqlBatchCommand Write(
        AppliedRow result, RowChangeKind kind, (string Json, ReportedRow Row)? content, DateTimeOffset at)
    {
        var command = Command(WriteSql, Id, Row);
        var kept = content is { Json: var json } ? RowContent.Of(json) : null;
        command.Parameters.AddWithValue(Codes.Of(result.Outcome));
        command.Parameters.AddNullable(result.InfantId, NpgsqlDbType.Uuid);
        command.Parameters.AddCode(content?.Row.Kind);
        command.Parameters.AddNullable(kept?.Text, NpgsqlDbType.Text);
        command.Parameters.AddWithValue(kind == RowChangeKind.Discarded);
        command.Parameters.AddWithValue(DiscardReason);
        command.Parameters.AddWithValue(at.ToUniversalTime());
        command.Parameters.AddNullable(kept?.Key, NpgsqlDbType.Text);
        command.Parameters.AddNullable(kept?.IdentifierKeys, NpgsqlDbType.Array | NpgsqlDbType.Text);
        return command;
    }

    private NpgsqlBatchCommand Hold(AppliedRow result, ReportedRow row) =>
        HoldRows.One(new(Id, Row, Content.SiteId, Content.ReceivedAt, row, result.Hold!.Value, result.InfantId));

    private NpgsqlBatchCommand Resolve(RowChangeKind kind, Decider by, DateTimeOffset at)
    {
        var command = Command(
            "update held_rows set resolution = $3, resolved_at = $4, resolved_by = $5 where submission_id = $1 and row_number = $2",
            Id, Row);
        command.Parameters.AddWithValue(Codes.Of(kind switch
        {
            RowChangeKind.Discarded => HeldResolution.Discarded,
            RowChangeKind.Corrected => HeldResolution.Corrected,
            RowChangeKind.AskedAgain => HeldResolution.Applied,
            _ => HeldResolution.Matched,
        }));
        command.Parameters.AddWithValue(at.ToUniversalTime());
        command.Parameters.AddWithValue(by.PersonId);
        return command;
    }

    private static LastEvent ReadLast(NpgsqlDataReader r)
    {
        if (r.ValueOrNull<DateTimeOffset>(16) is { } sentAgainAt) return new(sentAgainAt, SentAgain: true);
        var settledItself = r.ValueOrNull<bool>(15) == true;
        return r.CodeOrNull<RowChangeKind>(11) is { } kind && !settledItself
            ? new(r.Moment(12), kind, r.TextOrNull(13)) : new(r.ValueOrNull<DateTimeOffset>(14));
    }
}
