using Npgsql;
using NpgsqlTypes;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;

namespace Registry.Intake.HeldRows;

/// <summary>Puts waiting rows together for one decision: those ticked, or all that a filter shows. Rows of another site than the filter's
/// are never among them.</summary>
public sealed class ChooseRows(NpgsqlDataSource source, ProgramClock clock)
{
    /// <summary>The most rows of one decision.</summary>
    public const int Most = 10_000;

    /// <param name="filter">What the chooser saw; its site is what the chooser may see.</param>
    /// <param name="ticked">Of them only these; null for all, the oldest <see cref="Most"/>.</param>
    /// <param name="by">Who chooses.</param>
    /// <param name="ct">Cancels.</param>
    /// <returns>The bulk decision, still to be decided; null when none of the rows waits.</returns>
    public async Task<Guid?> RunAsync(
        WaitingFilter filter, IReadOnlyList<(SubmissionId Id, int Row)>? ticked, Guid by, CancellationToken ct)
    {
        var bulk = Guid.CreateVersion7();
        await using var connection = await source.OpenConnectionAsync(ct);
        await using var transaction = await connection.BeginTransactionAsync(ct);
        await AddBulkAsync(connection, bulk, filter.Site, by, ct);
        if (await AddRowsAsync(connection, bulk, filter, ticked, ct) == 0) return null;
        await transaction.CommitAsync(ct);
        return bulk;
    }

    private async Task AddBulkAsync(NpgsqlConnection connection, Guid bulk, SiteId? site, Guid by, CancellationToken ct)
    {
        await using var insert = new NpgsqlCommand(
            "insert into bulk_decisions (id, site_id, chosen_at, chosen_by) values ($1, $2, $3, $4)", connection);
        insert.Parameters.AddWithValue(bulk);
        insert.Parameters.AddNullable(site?.Value, NpgsqlDbType.Uuid);
        insert.Parameters.AddWithValue(clock.Now.ToUniversalTime());
        insert.Parameters.AddWithValue(by);
        await insert.ExecuteNonQueryAsync(ct);
    }

    private async Task<int> AddRowsAsync(
        NpgsqlConnection connection, Guid bulk, WaitingFilter filter, IReadOnlyList<(SubmissionId Id, int Row)>? ticked,
        CancellationToken ct)
    {
        await using var choose = new NpgsqlCommand(WaitingFilter.Over("ChooseRows"), connection);
        filter.Bind(choose, clock);
        choose.Parameters.AddWithValue("bulk", bulk);
        choose.Parameters.AddWithValue("most", Most);
        choose.Parameters.AddNullable("ids", ticked?.Select(t => t.Id.Value).ToArray(), NpgsqlDbType.Array | NpgsqlDbType.Uuid);
        choose.Parameters.AddNullable("rows", ticked?.Select(t => t.Row).ToArray(), NpgsqlDbType.Array | NpgsqlDbType.Integer);
        return await choose.ExecuteNonQueryAsync(ct);
    }
}
