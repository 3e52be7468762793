using System.Security.Cryptography;
using System.Text.Json;
using Microsoft.Extensions.Options;
using Npgsql;
using NpgsqlTypes;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Intake;

/// <summary>Who sent it: a site's system by its key, or a signed-in person.</summary>
public readonly record struct ReceivedBy(Guid? SiteKeyId, Guid? PersonId);

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
    private const int ChunkBytes = 256 * 1024;

    /// <param name="siteId">The site that sends.</param>
    /// <param name="format">How the bytes are to be read.</param>
    /// <param name="defaultKind">What every row reports, for files without a kind column.</param>
    /// <param name="body">The raw bytes, read once to the end.</param>
    /// <param name="by">Who sent them.</param>
    /// <param name="receivedAt">When we received them: "known when" of every fact in them.</param>
    /// <param name="fileName">What the sender calls the file.</param>
    /// <param name="idempotencyKey">The sender's key for this submission, unique within the site.</param>
    /// <param name="ct">Cancels; nothing is stored then.</param>
    /// <exception cref="IOException">The body broke off; nothing was stored.</exception>
    public async Task<Receipt> ReceiveAsync(
        SiteId siteId, SubmissionFormat format, RowKind? defaultKind, Stream body, ReceivedBy by, DateTimeOffset receivedAt,
        string? fileName = null, string? idempotencyKey = null, CancellationToken ct = default)
    {
        var id = SubmissionId.New();
        var inspect = InspectSubmission.For(format, defaultKind);
        var encoding = new CheckUtf8();
        using var hash = IncrementalHash.CreateHash(HashAlgorithmName.SHA256);
        await using var connection = await source.OpenConnectionAsync(ct);
        await using var transaction = await connection.BeginTransactionAsync(ct);

        (Guid Id, byte[] Sha256, int RowCount)? earlier = null;
        if (idempotencyKey is not null)
        {
            if (!await TryLockKeyAsync(connection, siteId, idempotencyKey, ct)) return Nothing(ReceiptKind.KeyInUse);
            earlier = await FindByKeyAsync(connection, siteId, idempotencyKey, ct);
        }

        var buffer = new byte[ChunkBytes];
        long total = 0;
        for (var ordinal = 0; ; ordinal++)
        {
            var length = await body.ReadAtLeastAsync(buffer, ChunkBytes, throwOnEndOfStream: false, ct);
            if (length == 0) break;
            total += length;
            if (total > options.Value.MaxBytes) return Nothing(ReceiptKind.TooLarge);
            hash.AppendData(buffer, 0, length);
            if (earlier is not null) continue;
            inspect.Feed(inspect.IsUtf8 ? encoding.Feed(buffer.AsSpan(0, length)) : buffer.AsSpan(0, length));
            await StoreChunkAsync(connection, id, ordinal, buffer.AsMemory(0, length), ct);
        }

        var sha256 = hash.GetHashAndReset();
        if (earlier is { } e)
            return e.Sha256.AsSpan().SequenceEqual(sha256) ? new(ReceiptKind.Repeated, new(e.Id), e.RowCount, []) : Nothing(ReceiptKind.KeyReused);

        // A message sent again within the day is the same message: its bytes are its key.
        if (idempotencyKey is null && format == SubmissionFormat.Hl7V2)
        {
            idempotencyKey = $"hl7_v2 {receivedAt.UtcDateTime:yyyy-MM-dd} {Convert.ToHexStringLower(sha256)}";
            if (!await TryLockKeyAsync(connection, siteId, idempotencyKey, ct)) return Nothing(ReceiptKind.KeyInUse);
            if (await FindByKeyAsync(connection, siteId, idempotencyKey, ct) is { } same) return new(ReceiptKind.Repeated, new(same.Id), same.RowCount, []);
        }

        encoding.End();
        inspect.End();
        List<FileProblem> problems = encoding.Problem is { } p ? [p] : inspect.Problems;
        if (problems.Count == 0 && inspect.RowCount > options.Value.MaxRows)
            problems = [new(0, null, $"the file has {inspect.RowCount} rows; send at most {options.Value.MaxRows} at once")];

        await StoreSubmissionAsync();
        await transaction.CommitAsync(ct);
        return new(problems.Count == 0 ? ReceiptKind.Received : ReceiptKind.Refused, id, inspect.RowCount, problems);

        async Task StoreSubmissionAsync()
        {
            var refused = problems.Count > 0;
            await using var insert = new NpgsqlCommand(
                """
                insert into submissions (id, site_id, format, state, default_kind, received_at, site_key_id, person_id, idempotency_key, file_name,
                  sha256, byte_count, row_count, rows_done, accepted, unchanged, rejected, held, refusal, finished_at)
                values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, 0, 0, 0, 0, 0, $14, $15)
                """, connection);
            insert.Parameters.AddWithValue(id.Value);
            insert.Parameters.AddWithValue(siteId.Value);
            insert.Parameters.AddWithValue(Codes.Of(format));
            insert.Parameters.AddWithValue(Codes.Of(refused ? SubmissionState.Refused : SubmissionState.Received));
            insert.Parameters.Add(Nullable(defaultKind is { } kind ? Codes.Of(kind) : null, NpgsqlDbType.Text));
            insert.Parameters.AddWithValue(receivedAt.ToUniversalTime());
            insert.Parameters.Add(Nullable(by.SiteKeyId, NpgsqlDbType.Uuid));
            insert.Parameters.Add(Nullable(by.PersonId, NpgsqlDbType.Uuid));
            insert.Parameters.Add(Nullable(idempotencyKey, NpgsqlDbType.Text));
            insert.Parameters.Add(Nullable(fileName, NpgsqlDbType.Text));
            insert.Parameters.AddWithValue(sha256);
            insert.Parameters.AddWithValue(total);
            insert.Parameters.AddWithValue(refused ? 0 : inspect.RowCount);
            insert.Parameters.Add(Nullable(refused ? JsonSerializer.Serialize(problems, JsonSerializerOptions.Web) : null, NpgsqlDbType.Jsonb));
            insert.Parameters.Add(Nullable(refused ? receivedAt.ToUniversalTime() : null, NpgsqlDbType.TimestampTz));
            await insert.ExecuteNonQueryAsync(ct);
        }
    }

    private static Receipt Nothing(ReceiptKind kind) => new(kind, default, 0, []);

    private static NpgsqlParameter Nullable(object? value, NpgsqlDbType type) => new() { Value = value ?? DBNull.Value, NpgsqlDbType = type };

    private static async Task StoreChunkAsync(NpgsqlConnection connection, SubmissionId id, int ordinal, ReadOnlyMemory<byte> bytes, CancellationToken ct)
    {
        await using var insert = new NpgsqlCommand("insert into submission_chunks (submission_id, ordinal, bytes) values ($1, $2, $3)", connection);
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
        await using var command = new NpgsqlCommand("select id, sha256, row_count from submissions where site_id = $1 and idempotency_key = $2", connection);
        command.Parameters.AddWithValue(siteId.Value);
        command.Parameters.AddWithValue(key);
        await using var reader = await command.ExecuteReaderAsync(ct);
        return await reader.ReadAsync(ct) ? (reader.GetGuid(0), reader.GetFieldValue<byte[]>(1), reader.GetInt32(2)) : null;
    }
}
