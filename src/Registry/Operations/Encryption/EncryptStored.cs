using Npgsql;
using NpgsqlTypes;
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

    /// <param name="source">The database, as the owner of its tables.</param>
    /// <param name="keys">The keys; the current one encrypts.</param>
    /// <param name="say">Receives lines of progress.</param>
    /// <param name="ct">Cancels between two transactions.</param>
    /// <returns>Rows that were encrypted.</returns>
    public static async Task<long> RunAsync(NpgsqlDataSource source, FieldKeys keys, Action<string> say, CancellationToken ct)
    {
        var total = 0L;
        foreach (var place in EncryptedPlace.All)
        {
            var (done, after) = (0L, (string[]?)null);
            while (true)
            {
                (var rows, after) = await RoundAsync(source, keys, place, after, ct);
                if (rows == 0) break;
                say($"{place.Table}.{place.Column}: {done += rows:#,0} rows encrypted.");
            }

            total += done;
        }

        return total + await PiecesAsync(source, keys, say, ct);
    }

    /// <summary>The next rows of a place that are not encrypted with the current key.</summary>
    /// <param name="source">The database.</param>
    /// <param name="keys">The keys.</param>
    /// <param name="place">What is encrypted.</param>
    /// <param name="after">The key of the last row of the round before; null for the first.</param>
    /// <param name="ct">Cancels.</param>
    /// <returns>How many, and the key of the last.</returns>
    private static async Task<(int Rows, string[]? Last)> RoundAsync(
        NpgsqlDataSource source, FieldKeys keys, EncryptedPlace place, string[]? after, CancellationToken ct)
    {
        await using var connection = await source.OpenConnectionAsync(ct);
        await using var transaction = await connection.BeginTransactionAsync(ct);
        var (ids, texts) = (new List<string[]>(), new List<SealedText>());
        await using (var select = Select(connection, keys, place, after))
        await using (var reader = await select.ExecuteReaderAsync(ct))
        {
            while (await reader.ReadAsync(ct))
            {
                ids.Add([.. place.Key.Select((_, i) => reader.GetString(i))]);
                texts.Add(place.Seal(reader.GetString(place.Key.Count), keys));
            }
        }

        if (ids.Count == 0) return (0, after);
        await ExecuteAsync(connection, $"alter table {place.Table} disable trigger user", ct);
        await using (var update = Update(connection, place, ids, texts)) await update.ExecuteNonQueryAsync(ct);
        await ExecuteAsync(connection, $"alter table {place.Table} enable trigger user", ct);
        await transaction.CommitAsync(ct);
        return (ids.Count, ids[^1]);
    }

    private static NpgsqlCommand Select(NpgsqlConnection connection, FieldKeys keys, EncryptedPlace place, string[]? after)
    {
        var names = string.Join(", ", place.Key.Select(k => k.Name));
        var select = new NpgsqlCommand { Connection = connection };
        select.Parameters.AddWithValue($"enc:{keys.CurrentId}:%");
        foreach (var part in after ?? []) select.Parameters.AddWithValue(part);
        var next = after is null ? "" : $" and ({names}) > ({string.Join(", ", place.Key.Select((k, i) => $"${i + 2}::{k.Type}"))})";
        select.CommandText = $"select {string.Join(", ", place.Key.Select(k => $"{k.Name}::text"))}, {place.Read} from {place.Table} "
            + $"where {place.Read} is not null and ({place.Read}) not like $1{next} order by {names} limit {RowsAtOnce}";
        return select;
    }

    private static NpgsqlCommand Update(
        NpgsqlConnection connection, EncryptedPlace place, List<string[]> ids, List<SealedText> texts)
    {
        var update = new NpgsqlCommand { Connection = connection };
        for (var i = 0; i < place.Key.Count; i++) AddTexts(update, ids.Select(id => (string?)id[i]));
        AddTexts(update, texts.Select(t => (string?)t.Value));
        AddTexts(update, texts.Select(t => t.LookUp));
        AddTexts(update, texts.Select(t => t.Names));
        var arrays = string.Join(", ", Enumerable.Range(1, update.Parameters.Count).Select(n => $"${n}"));
        var columns = string.Join(", ", place.Key.Select(k => k.Name).Append("value").Append("look_up").Append("names"));
        update.CommandText = $"update {place.Table} t set {place.Set} from unnest({arrays}) as v({columns}) where "
            + string.Join(" and ", place.Key.Select(k => $"t.{k.Name} = v.{k.Name}::{k.Type}"));
        return update;
    }

    private static void AddTexts(NpgsqlCommand command, IEnumerable<string?> values) =>
        command.Parameters.Add(new() { Value = values.ToArray(), NpgsqlDbType = NpgsqlDbType.Array | NpgsqlDbType.Text });

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
