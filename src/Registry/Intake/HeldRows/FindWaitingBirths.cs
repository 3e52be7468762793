using Npgsql;
using NpgsqlTypes;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;

namespace Registry.Intake.HeldRows;

/// <summary>A birth that waits.</summary>
public sealed record WaitingBirth(SubmissionId Id, int Row, DateTimeOffset ReceivedAt);

/// <param name="Awaited">Births a row may wait for, oldest first.</param>
/// <param name="WaitingForIt">How many rows may wait for this birth.</param>
public sealed record WaitingBirths(IReadOnlyList<WaitingBirth> Awaited, int WaitingForIt)
{
    public static WaitingBirths None { get; } = new([], 0);
}

/// <summary>Which waiting births a waiting row may be about, and how many rows a waiting birth keeps waiting: the two name the same record
/// number of one site, or the same card.</summary>
public sealed class FindWaitingBirths(NpgsqlDataSource source)
{
    private static readonly string Sql = EmbeddedSql.Of<FindWaitingBirths>();

    /// <param name="row">The row.</param>
    /// <param name="ofAnySite">Also what waits at other sites: that somebody else's row names the same card is the office's to
    /// know.</param>
    /// <param name="ct">Cancels.</param>
    public async Task<WaitingBirths> ForAsync(WaitingRow row, bool ofAnySite, CancellationToken ct)
    {
        await using var command = source.CreateCommand(Sql);
        command.Parameters.AddWithValue(row.Content.SubmissionId.Value);
        command.Parameters.AddWithValue(row.Content.RowNumber);
        command.Parameters.AddWithValue(row.Content.SiteId.Value);
        command.Parameters.AddNullable(row.Stated.GetValueOrDefault(Rows.Field.RecordNumber), NpgsqlDbType.Text);
        command.Parameters.AddNullable(row.Stated.GetValueOrDefault(Rows.Field.CardId), NpgsqlDbType.Text);
        command.Parameters.AddWithValue(ofAnySite);
        var (births, others) = (new List<WaitingBirth>(), 0);
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct))
        {
            if (r.GetBoolean(3)) births.Add(new(new(r.GetGuid(0)), r.GetInt32(1), r.Moment(2)));
            else others++;
        }

        return row.Kind == RowKind.Birth ? new([], others) : new(births, 0);
    }
}
