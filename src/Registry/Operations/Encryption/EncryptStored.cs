using Npgsql;
using NpgsqlTypes;
using Registry.Access;
using Registry.Facts;
using Registry.Platform.Data;
using Registry.Platform.Encryption;

namespace Registry.Operations.Encryption;

/// <summary>
/// Encrypts what is stored in the clear, or with an older key, with the current one: once after an upgrade, and after a key was added.
/// A thousand rows a transaction, while the registry is in use; stopped anywhere, the next run goes on.
/// </summary>
/// <remarks>The guards of facts refuse every edit. The owner of the tables alone may set them aside, and does so for the moment of a
/// transaction: the value stays what it was, only its spelling changes.</remarks>
public static class EncryptStored
{
    private const int RowsAtOnce = 1_000, PiecesAtOnce = 32;

    /// <summary>Every column that is encrypted, and what it is looked up by.</summary>
    private static readonly (string Table, string Column, string? KeyColumn)[] Columns =
    [
        .. FactKinds.All.SelectMany(k => k.Columns.Where(c => c.IsSecret)
            .Select(c => (k.Table, c.Name, k.Written.Contains($"{c.Name}_key") ? $"{c.Name}_key" : null))),
    ];

    /// <param name="source">The database, as the owner of its tables.</param>
    /// <param name="keys">The keys; the current one encrypts.</param>
    /// <param name="say">Receives lines of progress.</param>
    /// <param name="ct">Cancels between two transactions.</param>
    /// <returns>Rows that were encrypted.</returns>
    public static async Task<long> RunAsync(NpgsqlDataSource source, FieldKeys keys, Action<string> say, CancellationToken ct)
    {
        var total = 0L;
        foreach (var (table, column, keyColumn) in Columns)
        {
            var (done, after) = (0L, Guid.Empty);
            while (true)
            {
                var (rows, last) = await ColumnAsync(source, keys, (table, column, keyColumn), after, ct);
                if (rows == 0) break;
                (done, after) = (done + rows, last);
                say($"{table}.{column}: {done:#,0} rows encrypted.");
            }

            total += done;
        }

        return total + await TokensAsync(source, keys, ct) + await PiecesAsync(source, keys, say, ct);
    }

    /// <summary>What second factors are checked with: a few for each person, in one transaction.</summary>
    private static async Task<long> TokensAsync(NpgsqlDataSource source, FieldKeys keys, CancellationToken ct)
    {
        await using var connection = await source.OpenConnectionAsync(ct);
        await using var transaction = await connection.BeginTransactionAsync(ct);
        var stored = new List<(Guid Person, string Provider, string Name, string Value)>();
        await using (var select = new NpgsqlCommand(
            "select user_id, login_provider, name, value from person_tokens where value is not null and value not like $1 for update",
            connection))
        {
            select.Parameters.AddWithValue($"enc:{keys.CurrentId}:%");
            await using var r = await select.ExecuteReaderAsync(ct);
            while (await r.ReadAsync(ct)) stored.Add((r.GetGuid(0), r.GetString(1), r.GetString(2), r.GetString(3)));
        }

        foreach (var (person, provider, name, value) in stored)
        {
            await using var update = new NpgsqlCommand(
                "update person_tokens set value = $4 where user_id = $1 and login_provider = $2 and name = $3", connection);
            update.Parameters.AddWithValue(person);
            update.Parameters.AddWithValue(provider);
            update.Parameters.AddWithValue(name);
            update.Parameters.AddWithValue(
                keys.Encrypt(keys.Decrypt(value, ConfigurePersonToken.Place), ConfigurePersonToken.Place)!);
            await update.ExecuteNonQueryAsync(ct);
        }

        await transaction.CommitAsync(ct);
        return stored.Count;
    }

    private static async Task<(int Rows, Guid Last)> ColumnAsync(
        NpgsqlDataSource source, FieldKeys keys, (string Table, string Column, string? KeyColumn) of, Guid after, CancellationToken ct)
    {
        var (table, column, keyColumn) = of;
        await using var connection = await source.OpenConnectionAsync(ct);
        await using var transaction = await connection.BeginTransactionAsync(ct);
        var (ids, values, lookUps) = (new List<Guid>(), new List<string>(), new List<string?>());
        await using (var select = new NpgsqlCommand(
            $"select id, {column} from {table} where id > $1 and {column} is not null and {column} not like $2 "
            + $"order by id limit {RowsAtOnce}", connection))
        {
            select.Parameters.AddWithValue(after);
            select.Parameters.AddWithValue($"enc:{keys.CurrentId}:%");
            await using var reader = await select.ExecuteReaderAsync(ct);
            while (await reader.ReadAsync(ct))
            {
                var plain = keys.Decrypt(reader.GetString(1), $"{table}.{column}");
                ids.Add(reader.GetGuid(0));
                values.Add(keys.Encrypt(plain, $"{table}.{column}")!);
                lookUps.Add(column == "contact_phone" ? keys.KeyOfPhone(plain) : keys.KeyOfEmail(plain));
            }
        }

        if (ids.Count == 0) return (0, after);
        var set = keyColumn is null ? "" : $", {keyColumn} = v.look_up";
        await ExecuteAsync(connection, $"alter table {table} disable trigger user", ct);
        await using (var update = new NpgsqlCommand(
            $"update {table} t set {column} = v.value{set} from unnest($1, $2, $3) as v(id, value, look_up) where t.id = v.id", connection))
        {
            update.Parameters.AddWithValue(ids.ToArray());
            update.Parameters.AddWithValue(values.ToArray());
            update.Parameters.Add(new() { Value = lookUps.ToArray(), NpgsqlDbType = NpgsqlDbType.Array | NpgsqlDbType.Text });
            await update.ExecuteNonQueryAsync(ct);
        }

        await ExecuteAsync(connection, $"alter table {table} enable trigger user", ct);
        await transaction.CommitAsync(ct);
        return (ids.Count, ids[^1]);
    }

    private static async Task<long> PiecesAsync(NpgsqlDataSource source, FieldKeys keys, Action<string> say, CancellationToken ct)
    {
        var (done, after) = (0L, (Submission: Guid.Empty, Ordinal: -1));
        while (true)
        {
            await using var connection = await source.OpenConnectionAsync(ct);
            await using var transaction = await connection.BeginTransactionAsync(ct);
            var pieces = await OlderPiecesAsync(connection, keys, after, ct);
            if (pieces.Count == 0) return done;
            await ExecuteAsync(connection, "alter table submission_chunks disable trigger user", ct);
            foreach (var (submission, ordinal, plain) in pieces)
            {
                await using var update = new NpgsqlCommand(
                    "update submission_chunks set bytes = $3, key_id = $4 where submission_id = $1 and ordinal = $2", connection);
                update.Parameters.AddWithValue(submission);
                update.Parameters.AddWithValue(ordinal);
                update.Parameters.AddWithValue(keys.Seal(plain, FieldKeys.PlaceOf(submission, ordinal)));
                update.Parameters.AddWithValue(keys.CurrentId);
                await update.ExecuteNonQueryAsync(ct);
            }

            await ExecuteAsync(connection, "alter table submission_chunks enable trigger user", ct);
            await transaction.CommitAsync(ct);
            (done, after) = (done + pieces.Count, (pieces[^1].Submission, pieces[^1].Ordinal));
            say($"submission_chunks: {done:#,0} pieces encrypted.");
        }
    }

    private static async Task<List<(Guid Submission, int Ordinal, byte[] Plain)>> OlderPiecesAsync(
        NpgsqlConnection connection, FieldKeys keys, (Guid Submission, int Ordinal) after, CancellationToken ct)
    {
        var pieces = new List<(Guid, int, byte[])>(PiecesAtOnce);
        await using var select = new NpgsqlCommand(
            "select submission_id, ordinal, bytes, key_id from submission_chunks where (submission_id, ordinal) > ($1, $2) "
            + $"and key_id is distinct from $3 order by submission_id, ordinal limit {PiecesAtOnce}", connection);
        select.Parameters.AddWithValue(after.Submission);
        select.Parameters.AddWithValue(after.Ordinal);
        select.Parameters.AddWithValue(keys.CurrentId);
        await using var reader = await select.ExecuteReaderAsync(ct);
        while (await reader.ReadAsync(ct))
        {
            var (submission, ordinal, stored) = (reader.GetGuid(0), reader.GetInt32(1), reader.GetFieldValue<byte[]>(2));
            pieces.Add((submission, ordinal, reader.TextOrNull(3) is { } key
                ? keys.Open(key, stored, FieldKeys.PlaceOf(submission, ordinal)) : stored));
        }

        return pieces;
    }

    private static async Task ExecuteAsync(NpgsqlConnection connection, string sql, CancellationToken ct)
    {
        await using var command = new NpgsqlCommand(sql, connection);
        await command.ExecuteNonQueryAsync(ct);
    }
}
