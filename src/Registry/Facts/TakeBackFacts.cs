using Npgsql;
using NpgsqlTypes;
using Registry.Platform;
using Registry.Records;

namespace Registry.Facts;

/// <summary>Closes what one row recorded, and restates what it had closed.</summary>
internal static class TakeBackFacts
{
    private static readonly (string All, string Replaced) Later = LaterSql();
    private static readonly IReadOnlyList<string> Statements = [.. TakeBackSql()];

    /// <param name="since">When the row was decided: what it recorded before was taken back already.</param>
    /// <param name="lastFirst">The rows that came after it were taken back before it: only what replaced the row's own fact rests on
    /// it.</param>
    /// <returns>The infants touched; null when later rows rest on this one and nothing was done.</returns>
    public static async Task<IReadOnlyCollection<Guid>?> RunAsync(
        NpgsqlConnection connection, SubmissionId id, int row, Guid? infant, DateTimeOffset since, DateTimeOffset at, CancellationToken ct,
        bool lastFirst = false)
    {
        if (infant is not { } infantId) return [];
        await using (var only = new NpgsqlCommand("select from infants where id = $1 for no key update", connection))
        {
            // As every writer of an infant does: what another one adds at this moment is seen, or waits for this.
            only.Parameters.AddWithValue(infantId);
            await only.ExecuteNonQueryAsync(ct);
        }

        await using (var later = new NpgsqlCommand(lastFirst ? Later.Replaced : Later.All, connection))
        {
            Bind(later.Parameters);
            AddMoment(later.Parameters, since);
            if ((bool)(await later.ExecuteScalarAsync(ct))!) return null;
        }

        await using var batch = new NpgsqlBatch(connection);
        foreach (var sql in Statements)
        {
            var command = new NpgsqlBatchCommand(sql);
            Bind(command.Parameters);
            batch.BatchCommands.Add(command);
        }

        await batch.ExecuteNonQueryAsync(ct);
        return [infantId];

        void Bind(NpgsqlParameterCollection parameters)
        {
            parameters.AddWithValue(infantId);
            parameters.AddWithValue(id.Value);
            parameters.AddWithValue(row);
            AddMoment(parameters, at);
        }
    }

    private static void AddMoment(NpgsqlParameterCollection parameters, DateTimeOffset at) =>
        parameters.Add(new() { Value = at.ToUniversalTime(), NpgsqlDbType = NpgsqlDbType.TimestampTz });

    /// <summary>Later rows that would be left without ground: the row's fact was replaced since, something was recorded in place of
    /// what the row retracted, or the row made the infant and others have spoken of it.</summary>
    private static (string All, string Replaced) LaterSql()
    {
        var (replaced, instead, others, made, _, _, _) = Parts();
        return ($"""
            select exists ({OfKinds(replaced)})
                or exists ({OfKinds(instead)})
                or ({made}
                    and exists ({string.Join("\nunion all\n", FactKinds.Tables.Select(t => InTable(others, t)))}))
            """, $"select exists ({OfKinds(replaced)})");

        static string OfKinds(string sql) => string.Join("\nunion all\n", FactKinds.All.Select(k => k.Fill(sql)));
    }

    /// <summary>In this order: closed first, so that what is restated is not closed again; the corrections last, since they say what to
    /// restate.</summary>
    private static IEnumerable<string> TakeBackSql()
    {
        var (_, _, _, _, close, restate, detail) = Parts();
        foreach (var table in FactKinds.Tables) yield return InTable(close, table);
        foreach (var kind in FactKinds.All) yield return kind.Fill(restate);
        foreach (var kind in FactKinds.All.Where(k => k.Detail is not null))
        {
            foreach (var (table, columns) in kind.Detail!.Tables)
            {
                yield return kind.Fill(detail).Replace("{detail table}", table, StringComparison.Ordinal)
                    .Replace("{detail key}", kind.Detail.Key, StringComparison.Ordinal)
                    .Replace("{detail columns}", columns, StringComparison.Ordinal)
                    .Replace("{detail values}", $"d.{columns.Replace(", ", ", d.", StringComparison.Ordinal)}", StringComparison.Ordinal);
            }
        }

        yield return InTable(close, "corrections");
    }

    private static string InTable(string sql, string table) => sql.Replace("{table}", table, StringComparison.Ordinal);

    /// <summary>The statements of TakeBackFacts.sql, in its order.</summary>
    private static (string Replaced, string Instead, string Others, string Made, string Close, string Restate, string Detail) Parts() =>
        EmbeddedSql.Read(typeof(TakeBackFacts), nameof(TakeBackFacts)).Split(';') is
            [var replaced, var instead, var others, var made, var close, var restate, var detail]
            ? (replaced, instead, others, made, close, restate, detail)
            : throw new InvalidOperationException("TakeBackFacts.sql does not hold seven statements.");
}
