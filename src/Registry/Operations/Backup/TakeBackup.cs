using System.Buffers.Binary;
using System.Data;
using System.IO.Compression;
using System.Text;
using System.Text.Json;
using Npgsql;

namespace Registry.Operations.Backup;

/// <summary>
/// Writes everything the registry keeps into one encrypted file: a COPY of every table from one snapshot of the database, while it is in
/// use. Memory does not depend on how much there is. The form of the file: docs/operations/backup.md.
/// </summary>
/// <remarks>Connects as the owner of the tables: what is hidden from others must be in it, and a row hidden from this one is an
/// error.</remarks>
public static class TakeBackup
{
    public const int Format = 1;
    private const int Buffer = 64 * 1024;

    /// <summary>Milliseconds for one step of a COPY: a large table's references are checked at its end.</summary>
    internal const int Patience = 4 * 60 * 60 * 1000;

    /// <param name="source">The database, as the owner of its tables.</param>
    /// <param name="file">The file; one of that name is kept.</param>
    /// <param name="passphrase">What it is encrypted with.</param>
    /// <param name="time">The clock.</param>
    /// <param name="ct">Cancels; nothing is left behind.</param>
    public static async Task<BackupRecord> RunAsync(
        NpgsqlDataSource source, string file, string passphrase, TimeProvider time, CancellationToken ct)
    {
        var partial = file + ".partial";
        try
        {
            await using var stream = new FileStream(partial, Owned(FileMode.Create, FileAccess.Write));
            var taken = time.GetUtcNow();
            var (tables, rows) = await WriteAsync(source, stream, passphrase, taken, ct);
            stream.Flush(flushToDisk: true);
            File.Move(partial, file, overwrite: false);
            var record = new BackupRecord
            {
                Id = Guid.CreateVersion7(),
                TakenAt = taken,
                FinishedAt = time.GetUtcNow(),
                Tables = tables,
                Rows = rows,
                Bytes = stream.Length,
            };
            await RecordAsync(source, record, ct);
            return record;
        }
        finally
        {
            File.Delete(partial);
        }
    }

    private static async Task<(int Tables, long Rows)> WriteAsync(
        NpgsqlDataSource source, Stream to, string passphrase, DateTimeOffset taken, CancellationToken ct)
    {
        var key = ArchiveKey.New(passphrase);
        await to.WriteAsync(key.Header, ct);
        await using var connection = await source.OpenConnectionAsync(ct);
        await using var transaction = await connection.BeginTransactionAsync(IsolationLevel.RepeatableRead, ct);
        await using (var set = new NpgsqlCommand("set transaction read only; set local row_security = off", connection))
            await set.ExecuteNonQueryAsync(ct);
        var manifest = new Manifest(Format, await MigrationAsync(connection, ct), taken,
            await ArchivedTables.ReadAsync(connection, ct), await ArchivedTables.SequencesAsync(connection, ct));

        await using var sealing = new SealStream(to, key);
        var total = 0L;
        await using (var packing = new GZipStream(sealing, CompressionLevel.Fastest, leaveOpen: true))
        {
            await BlockAsync(packing, JsonSerializer.SerializeToUtf8Bytes(manifest, JsonSerializerOptions.Web), ct);
            foreach (var table in manifest.Tables) total += await CopyAsync(connection, table, packing, ct);
        }

        await sealing.FinishAsync(ct);
        return (manifest.Tables.Count, total);
    }

    /// <summary>A table's rows as PostgreSQL's COPY writes text (one line a row), in blocks; an empty block; how many rows.</summary>
    private static async Task<long> CopyAsync(NpgsqlConnection connection, ArchivedTable table, Stream to, CancellationToken ct)
    {
        using var reader = await connection.BeginTextExportAsync(table.CopyOut, ct);
        reader.Timeout = Patience;
        var encoder = new UTF8Encoding(false).GetEncoder();
        var (text, bytes, rows) = (new char[Buffer], new byte[4 * Buffer], 0L);
        for (int read; (read = await reader.ReadBlockAsync(text, ct)) > 0;)
        {
            rows += text.AsSpan(0, read).Count('\n');
            await BlockAsync(to, bytes.AsMemory(0, encoder.GetBytes(text.AsSpan(0, read), bytes, flush: false)), ct);
        }

        await BlockAsync(to, default, ct);
        var count = new byte[8];
        BinaryPrimitives.WriteInt64BigEndian(count, rows);
        await BlockAsync(to, count, ct);
        return rows;
    }

    private static async Task BlockAsync(Stream to, ReadOnlyMemory<byte> block, CancellationToken ct)
    {
        var length = new byte[4];
        BinaryPrimitives.WriteInt32BigEndian(length, block.Length);
        await to.WriteAsync(length, ct);
        await to.WriteAsync(block, ct);
    }

    private static async Task<string> MigrationAsync(NpgsqlConnection connection, CancellationToken ct)
    {
        await using var command = new NpgsqlCommand("select max(migration_id) from \"__EFMigrationsHistory\"", connection);
        return (string)(await command.ExecuteScalarAsync(ct))!;
    }

    private static async Task RecordAsync(NpgsqlDataSource source, BackupRecord record, CancellationToken ct)
    {
        await using var insert = source.CreateCommand(
            "insert into backups (id, taken_at, finished_at, tables, rows, bytes) values ($1, $2, $3, $4, $5, $6)");
        insert.Parameters.AddWithValue(record.Id);
        insert.Parameters.AddWithValue(record.TakenAt);
        insert.Parameters.AddWithValue(record.FinishedAt);
        insert.Parameters.AddWithValue(record.Tables);
        insert.Parameters.AddWithValue(record.Rows);
        insert.Parameters.AddWithValue(record.Bytes);
        await insert.ExecuteNonQueryAsync(ct);
    }

    /// <summary>Open to its owner only.</summary>
    private static FileStreamOptions Owned(FileMode mode, FileAccess access)
    {
        var options = new FileStreamOptions { Mode = mode, Access = access, Options = FileOptions.Asynchronous };
        if (!OperatingSystem.IsWindows()) options.UnixCreateMode = UnixFileMode.UserRead | UnixFileMode.UserWrite;
        return options;
    }
}
