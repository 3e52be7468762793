using Microsoft.Extensions.Options;
using Npgsql;
using Registry.Intake.Formats;
using Registry.Intake.Mappings;
using Registry.Intake.Raw;
using Registry.Intake.Rows;
using Registry.Intake.Submissions;
using Registry.Platform.Data;
using Registry.Records;

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

    /// <summary>The site stored as much as it may. Nothing was stored.</summary>
    StorageFull,
}

/// <summary>What receiving did. <c>Id</c> is empty when nothing was stored.</summary>
public sealed record Receipt(ReceiptKind Kind, SubmissionId Id, int RowCount, IReadOnlyList<FileProblem> Problems);

/// <summary>
/// Takes in one submission's bytes: stored raw with their hash, in one transaction. A body that breaks off leaves nothing
/// behind; when this returns <see cref="ReceiptKind.Received"/> or <see cref="ReceiptKind.Refused"/> the bytes are committed.
/// </summary>
public sealed class ReceiveSubmission(NpgsqlDataSource source, LimitStorage storage, IOptions<IntakeOptions> options)
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
        var left = await storage.LeftAsync(sent.SiteId, ct);
        await using var connection = await source.OpenConnectionAsync(ct);
        await using var transaction = await connection.BeginTransactionAsync(ct);

        (Guid Id, byte[] Sha256, int RowCount)? earlier = null;
        if (sent.IdempotencyKey is { } key)
        {
            if (!await TryLockKeyAsync(connection, sent.SiteId, key, ct)) return Nothing(ReceiptKind.KeyInUse);
            earlier = await FindByKeyAsync(connection, sent.SiteId, key, ct);
        }

        // What is sent again is answered as before, however much is stored.
        if (left <= 0 && earlier is null) return Nothing(ReceiptKind.StorageFull);
        var most = earlier is null ? Math.Min(left, options.Value.MaxBytes) : options.Value.MaxBytes;
        await using var bytes = new ReceivedBytes(body, most,
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

            var problems = inspected.Problems;
            await SubmissionRecord.WriteAsync(connection, [new(id, sent, inspected.Read, sha256, bytes.Total, inspected.RowCount)
            {
                Problems = problems,
                FinishedAt = problems.Count > 0 ? sent.ReceivedAt : null,
            }], ct);
            await transaction.CommitAsync(ct);
            storage.Took(sent.SiteId, bytes.Total);
            return new(problems.Count == 0 ? ReceiptKind.Received : ReceiptKind.Refused, id, inspected.RowCount, problems);
        }
        catch (BodyTooLargeException)
        {
            return Nothing(most < options.Value.MaxBytes ? ReceiptKind.StorageFull : ReceiptKind.TooLarge);
        }
    }

    private static Receipt Nothing(ReceiptKind kind) => new(kind, default, 0, []);

    private static async Task StoreChunkAsync(NpgsqlConnection connection, SubmissionId id, int ordinal, ReadOnlyMemory<byte> bytes,
        CancellationToken ct)
    {
        var (stored, key) = StoredPiece.Of(bytes.Span, id, ordinal);
        await using var insert = new NpgsqlCommand(
            "insert into submission_chunks (submission_id, ordinal, bytes, key_id) values ($1, $2, $3, $4)", connection);
        insert.Parameters.AddWithValue(id.Value);
        insert.Parameters.AddWithValue(ordinal);
        insert.Parameters.AddWithValue(stored);
        insert.Parameters.AddWithValue(key);
        await insert.ExecuteNonQueryAsync(ct);
    }

    private static Task<bool> TryLockKeyAsync(NpgsqlConnection connection, SiteId siteId, string key, CancellationToken ct) =>
        AdvisoryLock.TryForTransactionAsync(connection, LockedThing.IdempotencyKey, LockOf(siteId, key), ct);

    /// <summary>What is locked while a submission with this key is received.</summary>
    internal static string LockOf(SiteId siteId, string key) => $"{siteId.Value:N}/{key}";

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
