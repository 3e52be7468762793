using Npgsql;
using NpgsqlTypes;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Facts;

/// <summary>Closes what one row recorded, and restates what it had closed.</summary>
internal static class TakeBackFacts
{
    private const string Mine = "infant_id = $1 and submission_id = $2 and row_number = $3 and superseded_at is null";
    private static readonly string[] Tables = ["infant_identifiers", .. FactTables.All];

    /// <summary>What goes with a restated test.</summary>
    private static readonly (string Table, string Columns)[] DetailTables =
    [
        ("screening_details", "stimulus, duration_seconds, artefacts_rejected, ear_canal_volume_ml, ambient_noise_db"),
        ("screening_bands", "frequency_hz, level_db_spl, noise_db_spl, snr_db"),
    ];

    /// <param name="since">When the row was decided: what it recorded before was taken back already.</param>
    /// <returns>The infants touched; null when later rows rest on this one and nothing was done.</returns>
    public static async Task<IReadOnlyCollection<Guid>?> RunAsync(
        NpgsqlConnection connection, SubmissionId id, int row, Guid? infant, DateTimeOffset since, DateTimeOffset at, CancellationToken ct)
    {
        if (infant is not { } infantId) return [];
        await using (var only = new NpgsqlCommand("select from infants where id = $1 for no key update", connection))
        {
            // As every writer of an infant does: what another one adds at this moment is seen, or waits for this.
            only.Parameters.AddWithValue(infantId);
            await only.ExecuteNonQueryAsync(ct);
        }

        if (await ExistsAsync(connection, infantId, id, row, since, at, ct)) return null;
        foreach (var table in Tables)
            await ExecuteAsync(connection, $"update {table} set superseded_at = $4 where {Mine}", infantId, id, row, at, ct);
        foreach (var kind in FactTables.Kinds)
        {
            var table = FactTables.Of(kind);
            await ExecuteAsync(connection,
                $"""
                insert into {table}
                select (jsonb_populate_record(old, jsonb_build_object('id', gen_random_uuid(), 'recorded_at', $4::timestamptz, 'superseded_at', null))).*
                  from {table} old join corrections c on c.fact_id = old.id and c.kind = '{Codes.Of(kind)}'
                 where c.infant_id = $1 and c.submission_id = $2 and c.row_number = $3 and c.superseded_at is null
                """, infantId, id, row, at, ct);
        }

        foreach (var (table, columns) in DetailTables)
        {
            await ExecuteAsync(connection,
                $"""
                insert into {table} (screening_id, {columns})
                select again.id, {columns}
                  from corrections c
                  join screenings old on old.id = c.fact_id
                  join {table} d on d.screening_id = old.id
                  join screenings again on again.infant_id = old.infant_id and again.submission_id = old.submission_id
                    and again.row_number = old.row_number and again.recorded_at = $4 and again.superseded_at is null
                 where c.infant_id = $1 and c.submission_id = $2 and c.row_number = $3 and c.superseded_at is null
                """, infantId, id, row, at, ct);
        }

        await ExecuteAsync(connection, $"update corrections set superseded_at = $4 where {Mine}", infantId, id, row, at, ct);
        return [infantId];
    }

    /// <summary>Later rows that would be left without ground: the row's fact was replaced since, something was recorded in place of
    /// what the row retracted, or the row made the infant and others have spoken of it.</summary>
    private static string LaterSql()
    {
        var replaced = string.Join(" union all ", FactTables.All.Select(t =>
            $"select from {t} where infant_id = $1 and submission_id = $2 and row_number = $3 and superseded_at is not null and "
                + $"superseded_at <> $4 and recorded_at >= $5 and not exists (select from {t} c where c.infant_id = $1 and "
                + "c.submission_id = $2 and c.row_number = $3 and c.superseded_at is null)"));
        var instead = string.Join(" union all ", FactTables.Kinds.Select(k =>
            $"select from corrections c join {FactTables.Of(k)} f on f.infant_id = c.infant_id and f.superseded_at is null and "
                + $"f.recorded_at >= c.recorded_at where c.infant_id = $1 and c.submission_id = $2 and c.row_number = $3 and "
                + $"c.superseded_at is null and c.kind = '{Codes.Of(k)}' and c.action = 'retract'"));
        var others = string.Join(" union all ", Tables.Select(t =>
            $"select from {t} where infant_id = $1 and superseded_at is null and (submission_id, row_number) is distinct from ($2, $3)"));
        return $"""
            select exists ({replaced})
                or exists ({instead})
                or (exists (select from births where infant_id = $1 and submission_id = $2 and row_number = $3)
                    and not exists (select from births where infant_id = $1 and (submission_id, row_number) is distinct from ($2, $3))
                    and exists ({others}))
            """;
    }

    private static async Task<bool> ExistsAsync(
        NpgsqlConnection c, Guid infant, SubmissionId id, int row, DateTimeOffset since, DateTimeOffset at, CancellationToken ct)
    {
        await using var command = Command(c, LaterSql(), infant, id, row, at);
        command.Parameters.Add(new NpgsqlParameter { Value = since.ToUniversalTime(), NpgsqlDbType = NpgsqlDbType.TimestampTz });
        return (bool)(await command.ExecuteScalarAsync(ct))!;
    }

    private static async Task ExecuteAsync(NpgsqlConnection c, string sql, Guid infant, SubmissionId id, int row, DateTimeOffset at,
        CancellationToken ct)
    {
        await using var command = Command(c, sql, infant, id, row, at);
        await command.ExecuteNonQueryAsync(ct);
    }

    private static NpgsqlCommand Command(NpgsqlConnection connection, string sql, Guid infant, SubmissionId id, int row, DateTimeOffset at)
    {
        var command = new NpgsqlCommand(sql, connection);
        command.Parameters.AddWithValue(infant);
        command.Parameters.AddWithValue(id.Value);
        command.Parameters.AddWithValue(row);
        command.Parameters.Add(new NpgsqlParameter { Value = at.ToUniversalTime(), NpgsqlDbType = NpgsqlDbType.TimestampTz });
        return command;
    }
}
