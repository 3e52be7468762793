using Npgsql;
using NpgsqlTypes;
using Registry.Facts;
using Registry.Intake.Rows;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Rules.Linkage;

namespace Registry.Intake.Applying;

/// <summary>A row that is to wait.</summary>
/// <param name="SiteId">Who sent it.</param>
/// <param name="HeldAt">When it was received.</param>
/// <param name="Row">What it says.</param>
/// <param name="Reason">What it waits for.</param>
/// <param name="InfantId">The infant it says something about, when that is certain.</param>
internal readonly record struct RowToHold(
    SubmissionId SubmissionId, int Number, SiteId SiteId, DateTimeOffset HeldAt, ReportedRow Row, HoldReason Reason, Guid? InfantId)
{
    /// <summary>It does not wait, but leans on details: it waits when its candidates change.</summary>
    public bool Leans { get; init; }

    public string? PriorRecordNumber => (Row.Fact as ReportedMerge)?.PriorRecordNumber;
    public bool Amends => Row.Action != RowAction.Report;
}

/// <summary>Adds to held_rows, with the keys by which <see cref="RetryHeldRows"/> finds a row again: nothing else does.
/// <see cref="SettleHeldRows"/> and a person's decision close what waits.</summary>
internal static class HoldRows
{
    private const string Copy =
        "copy held_rows (submission_id, row_number, site_id, kind, reason, held_at, record_number, card_id, birth_date, "
            + "mother_family_key, mother_born_on, infant_id, prior_record_number, amends, resolution, resolved_at, leans_on) "
            + "from stdin (format binary)";

    private static readonly string OneSql = EmbeddedSql.Read(typeof(HoldRows), "HoldRow");

    /// <summary>Rows that were just received.</summary>
    public static Task CopyAsync(NpgsqlConnection connection, IReadOnlyCollection<RowToHold> rows, CancellationToken ct) =>
        CopyRows.RunAsync(connection, Copy, rows, static (w, held) =>
        {
            var (who, row) = (held.Row.Identity, held.Row);
            w.Id(held.SubmissionId.Value);
            w.Number(held.Number);
            w.Id(held.SiteId.Value);
            w.Code(row.Kind);
            w.Code(held.Reason);
            w.Moment(held.HeldAt);
            w.Text(row.RecordNumber);
            w.Text(row.CardId);
            w.Date(who.BornOn);
            w.Text(who.MotherFamily);
            w.Date(who.MotherBornOn);
            w.Id(held.InfantId);
            w.Text(held.PriorRecordNumber);
            w.Bool(held.Amends);
            w.Text(held.Leans ? Codes.Of(HeldResolution.Applied) : null);
            w.Moment(held.Leans ? held.HeldAt : null);
            w.Text(held.Leans ? "" : null);
        }, ct);

    /// <summary>A row a person corrected, whether it waited before or not.</summary>
    public static NpgsqlBatchCommand One(in RowToHold held)
    {
        var (who, row) = (held.Row.Identity, held.Row);
        var command = new NpgsqlBatchCommand(OneSql);
        var parameters = command.Parameters;
        parameters.AddWithValue(held.SubmissionId.Value);
        parameters.AddWithValue(held.Number);
        parameters.AddWithValue(held.SiteId.Value);
        parameters.AddWithValue(Codes.Of(row.Kind));
        parameters.AddWithValue(Codes.Of(held.Reason));
        parameters.AddWithValue(held.HeldAt.ToUniversalTime());
        parameters.AddNullable(row.RecordNumber, NpgsqlDbType.Text);
        parameters.AddNullable(row.CardId, NpgsqlDbType.Text);
        parameters.AddNullable(who.BornOn, NpgsqlDbType.Date);
        parameters.AddNullable(who.MotherFamily, NpgsqlDbType.Text);
        parameters.AddNullable(who.MotherBornOn, NpgsqlDbType.Date);
        parameters.AddNullable(held.InfantId, NpgsqlDbType.Uuid);
        parameters.AddNullable(held.PriorRecordNumber, NpgsqlDbType.Text);
        parameters.AddWithValue(held.Amends);
        return command;
    }
}
