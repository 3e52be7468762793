using Npgsql;
using NpgsqlTypes;
using Registry.Intake.Applying;
using Registry.Intake.Rows;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.Intake.HeldRows;

/// <summary>Who decides.</summary>
/// <param name="PersonId">The person.</param>
/// <param name="BulkId">The bulk decision this is part of.</param>
/// <param name="Seen">The row's last change as the person saw it (0: none); null: whatever it is.</param>
public readonly record struct Decider(Guid PersonId, Guid? BulkId = null, long? Seen = null);

/// <summary>Ends the transaction; the message is for the person who decides.</summary>
internal sealed class CannotDecideException(string message) : Exception(message);

/// <summary>
/// A held or rejected row as a decision finds it, locked until the transaction ends: the held row first, then the row, as every other
/// writer of the two does.
/// </summary>
internal sealed record LockedRow(HeldContent Content, RowOutcome Outcome, bool Waits, Guid? InfantId, long LastChange)
{
    public SubmissionId Id => Content.SubmissionId;
    public int Row => Content.RowNumber;

    /// <summary>Locks a row that waits for a person.</summary>
    /// <exception cref="CannotDecideException">It waits no more, or was changed since the person looked.</exception>
    public static async Task<LockedRow> WaitingAsync(NpgsqlConnection connection, SubmissionId id, int row, Decider by,
        CancellationToken ct)
    {
        var (locked, since) = await LockAsync(connection, id, row, ct);
        if (!locked.Waits) throw new CannotDecideException($"The row waits no more: {since}. Nothing was changed now.");
        if (by.Seen is { } seen && seen != locked.LastChange)
            throw new CannotDecideException(
                $"The row was changed after {(by.BulkId is null ? "you opened it" : "it was chosen")}: {since}. Look at it again; nothing "
                + "was changed now.");
        return locked;
    }

    /// <summary>Locks a row whatever its state.</summary>
    /// <returns>The row, and in words what happened to it last.</returns>
    public static async Task<(LockedRow Row, string Since)> LockAsync(
        NpgsqlConnection connection, SubmissionId id, int row, CancellationToken ct)
    {
        await using var batch = new NpgsqlBatch(connection);
        batch.BatchCommands.Add(Command("select from held_rows where submission_id = $1 and row_number = $2 for update", id, row));
        batch.BatchCommands.Add(Command(
            """
            select s.site_id, s.received_at, r.content::text, r.line, r.outcome, r.discarded_at is null and r.outcome in ('held', 'rejected'), r.infant_id,
                   last.id, last.kind, last.at, p.display_name, h.resolved_at, h.resolution = 'applied' and h.resolved_by is null, r.problems::text,
                   case when r.outcome = 'rejected' and last.kind is distinct from 'discarded' then r.discarded_at end
              from submission_rows r
              join submissions s on s.id = r.submission_id
              left join held_rows h on h.submission_id = r.submission_id and h.row_number = r.row_number
              left join lateral (select c.id, c.kind, c.at, c.person_id from row_changes c
                                  where c.submission_id = r.submission_id and c.row_number = r.row_number order by c.id desc limit 1) last on true
              left join people p on p.id = last.person_id
             where r.submission_id = $1 and r.row_number = $2 and r.content is not null for update of r
            """, id, row));
        await using var r = await batch.ExecuteReaderAsync(ct);
        await r.NextResultAsync(ct);
        if (!await r.ReadAsync(ct)) throw new CannotDecideException("There is no such row.");
        DateTimeOffset? resolvedAt = r.IsDBNull(11) ? null : r.GetFieldValue<DateTimeOffset>(11);
        var since = !r.IsDBNull(14) ? $"it was sent again, {Words.Time(r.GetFieldValue<DateTimeOffset>(14))}" : r.IsDBNull(7)
            || (!r.IsDBNull(12) && r.GetBoolean(12))
            ? $"it settled itself, {Words.Time(resolvedAt)}"
            : $"{IntakeWords.Of(Codes.Parse<RowChangeKind>(r.GetString(8))).ToLowerInvariant()} by "
                + $"{(r.IsDBNull(10) ? "somebody" : r.GetString(10))}, {Words.Time(r.GetFieldValue<DateTimeOffset>(9))}";
        return (new LockedRow(
            new HeldContent(id, row, new(r.GetGuid(0)), r.GetFieldValue<DateTimeOffset>(1), r.GetString(2), r.GetInt32(3))
            {
                FoundByReader = ProblemsJson.FoundByReader(r.IsDBNull(13) ? null : r.GetString(13)),
            },
            Codes.Parse<RowOutcome>(r.GetString(4)), r.GetBoolean(5), r.IsDBNull(6) ? null : r.GetGuid(6), r.IsDBNull(7)
                ? 0 : r.GetInt64(7)), since);
    }

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
        DateTimeOffset at,
        CancellationToken ct)
    {
        await using var batch = new NpgsqlBatch(connection);
        var remember = Command(
            """
            with change as (
              insert into row_changes (submission_id, row_number, kind, at, person_id, bulk_id, before)
              select r.submission_id, r.row_number, $3, $4, $5, $6, jsonb_build_object('row', to_jsonb(r), 'held', (
                       select to_jsonb(h) from held_rows h where h.submission_id = r.submission_id and h.row_number = r.row_number))
                from submission_rows r where r.submission_id = $1 and r.row_number = $2
              returning id)
            update bulk_rows b set state = 'done', change_id = change.id, reason = null
              from change where b.bulk_id = $6 and b.submission_id = $1 and b.row_number = $2
            """, Id, Row);
        Add(remember, Codes.Of(kind), at.ToUniversalTime(), by.PersonId);
        AddOptional(remember, by.BulkId, NpgsqlDbType.Uuid);
        batch.BatchCommands.Add(remember);

        var discarded = kind == RowChangeKind.Discarded;
        var update = Command(
            """
            update submission_rows set outcome = $3, infant_id = $4, kind = coalesce($5, kind), content = coalesce($6::jsonb, content),
              problems = case when $7 then coalesce(problems, '[]') || jsonb_build_array(jsonb_build_object('field', null, 'reason', $8)) end,
              discarded_at = case when $7 then $9 end
             where submission_id = $1 and row_number = $2
            """, Id, Row);
        Add(update, Codes.Of(result.Outcome));
        AddOptional(update, result.InfantId, NpgsqlDbType.Uuid);
        AddOptional(update, content is { } c ? Codes.Of(c.Row.Kind) : null, NpgsqlDbType.Text);
        AddOptional(update, content?.Json, NpgsqlDbType.Text);
        Add(update, discarded, DiscardReason, at.ToUniversalTime());
        batch.BatchCommands.Add(update);
        batch.BatchCommands.Add(Held(result, kind, content?.Row, by, at));
        if (Counts(Outcome, result.Outcome) is { } counts) batch.BatchCommands.Add(counts);
        await batch.ExecuteNonQueryAsync(ct);
    }

    internal const string DiscardReason = "discarded: not to be used";

    private NpgsqlBatchCommand Held(AppliedRow result, RowChangeKind kind, ReportedRow? row, Decider by, DateTimeOffset at)
    {
        if (result.Outcome != RowOutcome.Held || row is null)
        {
            var resolve = Command(
                "update held_rows set resolution = $3, resolved_at = $4, resolved_by = $5 where submission_id = $1 and row_number = $2", Id,
                Row);
            Add(resolve, Codes.Of(kind switch
            {
                RowChangeKind.Discarded => HeldResolution.Discarded,
                RowChangeKind.Corrected => HeldResolution.Corrected,
                RowChangeKind.AskedAgain => HeldResolution.Applied,
                _ => HeldResolution.Matched,
            }), at.ToUniversalTime(), by.PersonId);
            return resolve;
        }

        var hold = Command(
            """
            insert into held_rows (submission_id, row_number, site_id, kind, reason, held_at, record_number, card_id, birth_date, mother_family_key, mother_born_on)
            values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)
            on conflict (submission_id, row_number) do update set kind = excluded.kind, reason = excluded.reason, record_number = excluded.record_number,
              card_id = excluded.card_id, birth_date = excluded.birth_date, mother_family_key = excluded.mother_family_key,
              mother_born_on = excluded.mother_born_on, resolution = null, resolved_at = null, resolved_by = null
            """, Id, Row);
        Add(hold, Content.SiteId.Value, Codes.Of(row.Kind), Codes.Of(result.Hold!.Value), Content.ReceivedAt.ToUniversalTime());
        AddOptional(hold, row.RecordNumber, NpgsqlDbType.Text);
        AddOptional(hold, row.CardId, NpgsqlDbType.Text);
        AddOptional(hold, row.Identity.BornOn, NpgsqlDbType.Date);
        AddOptional(hold, row.Identity.MotherFamily, NpgsqlDbType.Text);
        AddOptional(hold, row.Identity.MotherBornOn, NpgsqlDbType.Date);
        return hold;
    }

    /// <summary>The submission's counts follow the row; null when its outcome stays.</summary>
    internal NpgsqlBatchCommand? Counts(RowOutcome from, RowOutcome to) => from == to ? null
        : Command($"update submissions set {Codes.Of(from)} = {Codes.Of(from)} - 1, {Codes.Of(to)} = {Codes.Of(to)} + 1 where id = $1 and "
            + "$2 > 0", Id, Row);

    internal static NpgsqlBatchCommand Command(string sql, SubmissionId id, int row)
    {
        var command = new NpgsqlBatchCommand(sql);
        Add(command, id.Value, row);
        return command;
    }

    internal static void Add(NpgsqlBatchCommand command, params object[] values)
    {
        foreach (var value in values) command.Parameters.Add(new NpgsqlParameter { Value = value });
    }

    internal static void AddOptional(NpgsqlBatchCommand command, object? value, NpgsqlDbType type) =>
        command.Parameters.Add(new NpgsqlParameter { Value = value ?? DBNull.Value, NpgsqlDbType = type });
}
