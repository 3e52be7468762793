using System.Text.Json;
using Microsoft.Extensions.Options;
using Npgsql;
using NpgsqlTypes;
using Registry.Intake.Formats;
using Registry.Intake.Mappings;
using Registry.Intake.Raw;
using Registry.Intake.Rows;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Intake.Receiving;

public enum ReceiptKind
{
    /// <summary>The bytes are committed; the rows can be processed.</summary>
    Received,

    /// <summary>The bytes are committed, but the file as a whole cannot be read: no row will be applied.</summary>
    Refused,

    /// <summary>The same key and the same bytes were received before: this is that submission.</summary>
    Repeated,

    /// <summary>The key was used before for other bytes. Nothing was stored.</summary>
    KeyReused,

    /// <summary>A request with this key is being received at this moment. Nothing was stored.</summary>
    KeyInUse,

    /// <summary>Larger than allowed. Nothing was stored.</summary>
    TooLarge,
}

/// <summary>What receiving did. <c>Id</c> is empty when nothing was stored.</summary>
public sealed record Receipt(ReceiptKind Kind, SubmissionId Id, int RowCount, IReadOnlyList<FileProblem> Problems);

/// <summary>
/// Takes in one submission's bytes: stored raw with their hash, in one transaction. A body that breaks off leaves nothing
/// behind; when this returns <see cref="ReceiptKind.Received"/> or <see cref="ReceiptKind.Refused"/> the bytes are committed.
/// </summary>
public sealed class ReceiveSubmission(NpgsqlDataSource source, IOptions<IntakeOptions> options)
{
    /// <summary>As the overload with a <see cref="SentFile"/>, for a file that states no more.</summary>
    public Task<Receipt> ReceiveAsync(
        SiteId siteId, SubmissionFormat format, RowKind? defaultKind, Stream body, ReceivedBy by, DateTimeOffset receivedAt,
        string? fileName = null, string? idempotencyKey = null, CancellationToken ct = default) =>
        ReceiveAsync(new(siteId, format, by, receivedAt)
        {
            DefaultKind = defaultKind,
            FileName = fileName,
            IdempotencyKey = idempotencyKey
        }, body, ct);

    /// <param name="sent">What is stated with the bytes.</param>
    /// <param name="body">The raw bytes, read once to the end.</param>
    /// <param name="ct">Cancels; nothing is stored then.</param>
    /// <exception cref="IOException">The body broke off; nothing was stored.</exception>
    public async Task<Receipt> ReceiveAsync(SentFile sent, Stream body, CancellationToken ct)
    {
        var id = SubmissionId.New();
        await using var connection = await source.OpenConnectionAsync(ct);
        await using var transaction = await connection.BeginTransactionAsync(ct);

        (Guid Id, byte[] Sha256, int RowCount)? earlier = null;
        if (sent.IdempotencyKey is { } key)
        {
            if (!await TryLockKeyAsync(connection, sent.SiteId, key, ct)) return Nothing(ReceiptKind.KeyInUse);
            earlier = await FindByKeyAsync(connection, sent.SiteId, key, ct);
        }

        await using var bytes = new ReceivedBytes(body, options.Value.MaxBytes,
            earlier is null ? (ordinal, piece, token) => StoreChunkAsync(connection, id, ordinal, piece, token) : null);
        try
        {
            if (earlier is { } e)
            {
                var again = await bytes.ReadToEndAsync(ct);
                return e.Sha256.AsSpan().SequenceEqual(again)
                    ? new(ReceiptKind.Repeated, new(e.Id), e.RowCount, []) : Nothing(ReceiptKind.KeyReused);
            }

            var inspected = await InspectFile.RunAsync(
                sent, bytes, () => new SubmissionStream(sql => new NpgsqlCommand(sql, connection), id, bytes.Total),
                header => FindMapping.ForAsync(connection, sent, header, ct), options.Value, ct);
            var sha256 = await bytes.ReadToEndAsync(ct);

            // A message sent again within the day is the same message: its bytes are its key.
            if (sent is { IdempotencyKey: null, Format: SubmissionFormat.Hl7V2 })
            {
                sent = sent with { IdempotencyKey = $"hl7_v2 {sent.ReceivedAt.UtcDateTime:yyyy-MM-dd} {Convert.ToHexStringLower(sha256)}" };
                if (!await TryLockKeyAsync(connection, sent.SiteId, sent.IdempotencyKey, ct)) return Nothing(ReceiptKind.KeyInUse);
                if (await FindByKeyAsync(connection, sent.SiteId, sent.IdempotencyKey, ct) is { } same)
                    return new(ReceiptKind.Repeated, new(same.Id), same.RowCount, []);
            }

            await StoreSubmissionAsync(connection, id, sent, inspected, sha256, bytes.Total, ct);
            await transaction.CommitAsync(ct);
            return new(inspected.Problems.Count == 0 ? ReceiptKind.Received : ReceiptKind.Refused, id, inspected.RowCount,
                inspected.Problems);
        }
        catch (BodyTooLargeException)
        {
            return Nothing(ReceiptKind.TooLarge);
        }
    }

    private static async Task StoreSubmissionAsync(
        NpgsqlConnection connection, SubmissionId id, SentFile sent, Inspected inspected, byte[] sha256, long total, CancellationToken ct)
    {
        var refused = inspected.Problems.Count > 0;
        await using var insert = new NpgsqlCommand(
            """
            insert into submissions (id, site_id, format, state, default_kind, received_at, site_key_id, person_id, idempotency_key, file_name,
              sha256, byte_count, row_count, rows_done, accepted, unchanged, rejected, held, refusal, finished_at, gzip, encoding, sheet, mapping_version_id)
            values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, 0, 0, 0, 0, 0, $14, $15, $16, $17, $18, $19)
            """, connection);
        insert.Parameters.AddWithValue(id.Value);
        insert.Parameters.AddWithValue(sent.SiteId.Value);
        insert.Parameters.AddWithValue(Codes.Of(sent.Format));
        insert.Parameters.AddWithValue(Codes.Of(refused ? SubmissionState.Refused : SubmissionState.Received));
        insert.Parameters.Add(Nullable(sent.DefaultKind is { } kind ? Codes.Of(kind) : null, NpgsqlDbType.Text));
        insert.Parameters.AddWithValue(sent.ReceivedAt.ToUniversalTime());
        insert.Parameters.Add(Nullable(sent.By.SiteKeyId, NpgsqlDbType.Uuid));
        insert.Parameters.Add(Nullable(sent.By.PersonId, NpgsqlDbType.Uuid));
        insert.Parameters.Add(Nullable(sent.IdempotencyKey, NpgsqlDbType.Text));
        insert.Parameters.Add(Nullable(sent.FileName, NpgsqlDbType.Text));
        insert.Parameters.AddWithValue(sha256);
        insert.Parameters.AddWithValue(total);
        insert.Parameters.AddWithValue(inspected.RowCount);
        insert.Parameters.Add(
            Nullable(refused ? JsonSerializer.Serialize(inspected.Problems, JsonSerializerOptions.Web) : null, NpgsqlDbType.Jsonb));
        insert.Parameters.Add(Nullable(refused ? sent.ReceivedAt.ToUniversalTime() : null, NpgsqlDbType.TimestampTz));
        insert.Parameters.AddWithValue(sent.Gzip);
        insert.Parameters.Add(Nullable(inspected.Read.Encoding is { } encoding ? Codes.Of(encoding) : null, NpgsqlDbType.Text));
        insert.Parameters.Add(Nullable(sent.Sheet, NpgsqlDbType.Text));
        insert.Parameters.Add(Nullable(inspected.Read.Mapping?.VersionId, NpgsqlDbType.Uuid));
        await insert.ExecuteNonQueryAsync(ct);
    }

    private static Receipt Nothing(ReceiptKind kind) => new(kind, default, 0, []);

    private static NpgsqlParameter Nullable(object? value, NpgsqlDbType type) =>
        new() { Value = value ?? DBNull.Value, NpgsqlDbType = type };

    private static async Task StoreChunkAsync(NpgsqlConnection connection, SubmissionId id, int ordinal, ReadOnlyMemory<byte> bytes,
        CancellationToken ct)
    {
        await using var insert = new NpgsqlCommand("insert into submission_chunks (submission_id, ordinal, bytes) values ($1, $2, $3)",
            connection);
        insert.Parameters.AddWithValue(id.Value);
        insert.Parameters.AddWithValue(ordinal);
        insert.Parameters.Add(new NpgsqlParameter { Value = bytes, NpgsqlDbType = NpgsqlDbType.Bytea });
        await insert.ExecuteNonQueryAsync(ct);
    }

    private static async Task<bool> TryLockKeyAsync(NpgsqlConnection connection, SiteId siteId, string key, CancellationToken ct)
    {
        await using var command = new NpgsqlCommand("select pg_try_advisory_xact_lock(hashtextextended($1, 7))", connection);
        command.Parameters.AddWithValue($"{siteId.Value:N}/{key}");
        return (bool)(await command.ExecuteScalarAsync(ct))!;
    }

    private static async Task<(Guid Id, byte[] Sha256, int RowCount)?> FindByKeyAsync(
        NpgsqlConnection connection, SiteId siteId, string key, CancellationToken ct)
    {
        await using var command = new NpgsqlCommand(
            "select id, sha256, row_count from submissions where site_id = $1 and idempotency_key = $2", connection);
        command.Parameters.AddWithValue(siteId.Value);
        command.Parameters.AddWithValue(key);
        await using var reader = await command.ExecuteReaderAsync(ct);
        return await reader.ReadAsync(ct) ? (reader.GetGuid(0), reader.GetFieldValue<byte[]>(1), reader.GetInt32(2)) : null;
    }
}
