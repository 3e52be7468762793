using Npgsql;
using NpgsqlTypes;
using Registry.Records;

namespace Registry.Intake;

/// <summary>Closes what one row recorded, and restates what it had replaced.</summary>
internal static class TakeBackFacts
{
    /// <summary>Tables of facts, and the columns by which a replacing fact finds the one it replaced.</summary>
    private static readonly (string Table, string[] Key)[] Tables =
    [
        ("births", []), ("infant_identifiers", []), ("screenings", ["ear", "performed_at", "site_id"]), ("diagnoses", ["evaluated_on", "site_id"]),
        ("interventions", []), ("deaths", []), ("moves", []), ("transfers", []), ("refusals", ["step", "refused_on"]), ("risks", []), ("contacts", []),
        ("readmissions", ["admitted_on"]), ("medical_delays", ["step", "from_on"]),
    ];

    private static readonly HashSet<string> Replaceable = ["births", "screenings", "diagnoses", "deaths", "refusals", "readmissions", "medical_delays"];

    /// <returns>The infants touched; null when later rows rest on this one and nothing was done.</returns>
    public static async Task<IReadOnlyCollection<Guid>?> RunAsync(
        NpgsqlConnection connection, SubmissionId id, int row, Guid? infant, DateTimeOffset at, CancellationToken ct)
    {
        if (infant is not { } infantId) return [];
        if (await ExistsAsync(connection, LaterSql(), infantId, id, row, at, ct)) return null;
        foreach (var (table, key) in Tables)
        {
            var same = string.Concat(key.Select(k => $" and old.{k} = mine.{k}"));
            await ExecuteAsync(connection,
                $"update {table} set superseded_at = $4 where infant_id = $1 and submission_id = $2 and row_number = $3 and superseded_at is null",
                infantId, id, row, at, ct);
            if (!Replaceable.Contains(table)) continue;
            await ExecuteAsync(connection,
                $"""
                insert into {table}
                select (jsonb_populate_record(old, jsonb_build_object('id', gen_random_uuid(), 'recorded_at', $4::timestamptz, 'superseded_at', null))).*
                  from {table} mine join {table} old on old.infant_id = mine.infant_id and old.superseded_at = mine.recorded_at and old.id <> mine.id{same}
                 where mine.infant_id = $1 and mine.submission_id = $2 and mine.row_number = $3 and mine.superseded_at = $4
                 order by old.recorded_at desc limit 1
                """, infantId, id, row, at, ct);
        }

        return [infantId];
    }

    /// <summary>Later rows that would be left without ground: the row's fact was replaced since, or the row made the infant
    /// and others have spoken of it.</summary>
    private static string LaterSql()
    {
        var replaced = string.Join(" union all ", Replaceable.Select(t =>
            $"select from {t} where infant_id = $1 and submission_id = $2 and row_number = $3 and superseded_at is not null and superseded_at <> $4 and not exists (select from {t} c where c.infant_id = $1 and c.submission_id = $2 and c.row_number = $3 and c.superseded_at is null)"));
        var others = string.Join(" union all ", Tables.Select(t =>
            $"select from {t.Table} where infant_id = $1 and superseded_at is null and (submission_id, row_number) is distinct from ($2, $3)"));
        return $"""
            select exists ({replaced})
                or (exists (select from births where infant_id = $1 and submission_id = $2 and row_number = $3)
                    and not exists (select from births where infant_id = $1 and (submission_id, row_number) is distinct from ($2, $3))
                    and exists ({others}))
            """;
    }

    private static async Task<bool> ExistsAsync(NpgsqlConnection c, string sql, Guid infant, SubmissionId id, int row, DateTimeOffset at, CancellationToken ct)
    {
        await using var command = Command(c, sql, infant, id, row, at);
        return (bool)(await command.ExecuteScalarAsync(ct))!;
    }

    private static async Task ExecuteAsync(NpgsqlConnection c, string sql, Guid infant, SubmissionId id, int row, DateTimeOffset at, CancellationToken ct)
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
