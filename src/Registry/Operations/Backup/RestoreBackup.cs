using System.Buffers.Binary;
using System.IO.Compression;
using System.Text;
using System.Text.Json;
using Npgsql;

namespace Registry.Operations.Backup;

/// <summary>
/// Fills an empty database from an archive of <see cref="TakeBackup"/>, in one transaction: all of it or nothing. References are checked
/// as ever; the triggers that make or refuse values are off, because every value is there already.
/// </summary>
public static class RestoreBackup
{
    private const int LongestBlock = 16 * 1024 * 1024;

    /// <param name="source">The database, as the owner of its tables.</param>
    /// <param name="file">The archive.</param>
    /// <param name="passphrase">What it was encrypted with.</param>
    /// <param name="needs">The schema this program has.</param>
    /// <param name="migrate">Makes the schema in a database that has none.</param>
    /// <param name="ct">Cancels; nothing is restored then.</param>
    /// <exception cref="ArchiveException">It cannot be restored; the message says why.</exception>
    public static async Task<(Manifest Manifest, long Rows)> RunAsync(
        NpgsqlDataSource source, string file, string passphrase, string needs, Func<Task> migrate, CancellationToken ct)
    {
        await using var stream = File.OpenRead(file);
        await using var opened = new UnsealStream(stream, await ArchiveKey.ReadAsync(stream, passphrase, ct));
        await using var unpacked = new GZipStream(opened, CompressionMode.Decompress);
        var manifest = JsonSerializer.Deserialize<Manifest>(await BlockAsync(unpacked, ct), JsonSerializerOptions.Web)!;
        if (manifest.Format != TakeBackup.Format)
            throw new ArchiveException($"The backup has form {manifest.Format}; this program reads 1.");
        if (manifest.Migration != needs)
            throw new ArchiveException($"The backup has schema {manifest.Migration}, this program {needs}. Restore it with the program it "
                + "was made with, then run the migrate verb of this one.");

        await using var connection = await source.OpenConnectionAsync(ct);
        await RefuseUnlessEmptyAsync(connection, ct);
        await migrate();
        await connection.ReloadTypesAsync(ct);

        await using var transaction = await connection.BeginTransactionAsync(ct);
        await RunAsync(connection, string.Join(";\n", manifest.Tables.Select(t => $"alter table {t.Name} disable trigger user")), ct);
        await RunAsync(connection, string.Join(";\n", manifest.Tables.Reverse().Select(t => $"delete from {t.Name}")), ct);
        var total = 0L;
        foreach (var table in manifest.Tables) total += await FillAsync(connection, table, unpacked, ct);
        if (await unpacked.ReadAsync(new byte[1], ct) > 0) throw new ArchiveException("The backup goes on where it should end.");
        await RunAsync(connection, string.Join(";\n", manifest.Tables.Select(t => $"alter table {t.Name} enable trigger user")), ct);
        foreach (var (sequence, value) in manifest.Sequences)
            await RunAsync(connection, $"select setval('{sequence.Replace("'", "''", StringComparison.Ordinal)}', {value})", ct);
        await transaction.CommitAsync(ct);
        await RunAsync(connection, "analyze", ct);
        return (manifest, total);
    }

    private static async Task<long> FillAsync(NpgsqlConnection connection, ArchivedTable table, Stream from, CancellationToken ct)
    {
        await using (var writer = await connection.BeginTextImportAsync(table.CopyIn, ct))
        {
            writer.Timeout = TakeBackup.Patience;
            var decoder = new UTF8Encoding(false, throwOnInvalidBytes: true).GetDecoder();
            for (byte[] block; (block = await BlockAsync(from, ct)).Length > 0;)
            {
                var text = new char[decoder.GetCharCount(block, flush: false)];
                decoder.GetChars(block, text, flush: false);
                await writer.WriteAsync(text.AsMemory(), ct);
            }
        }

        var told = BinaryPrimitives.ReadInt64BigEndian(await BlockAsync(from, ct));
        await using var count = new NpgsqlCommand($"select count(*) from {table.Name}", connection) { CommandTimeout = 0 };
        var rows = (long)(await count.ExecuteScalarAsync(ct))!;
        return rows == told ? rows
            : throw new ArchiveException($"{table.Name} has {rows} rows where the backup has {told}. Nothing was restored.");
    }

    private static async Task<byte[]> BlockAsync(Stream from, CancellationToken ct)
    {
        var length = new byte[4];
        await from.ReadExactlyAsync(length, ct);
        var bytes = BinaryPrimitives.ReadInt32BigEndian(length);
        if (bytes is < 0 or > LongestBlock) throw new ArchiveException("The backup cannot be read.");
        var block = new byte[bytes];
        await from.ReadExactlyAsync(block, ct);
        return block;
    }

    /// <summary>A database that holds a site, a person, an infant or a submission is somebody's.</summary>
    private static async Task RefuseUnlessEmptyAsync(NpgsqlConnection connection, CancellationToken ct)
    {
        foreach (var table in (string[])["sites", "infants", "submissions", "people"])
        {
            await using var exists = new NpgsqlCommand($"select to_regclass('public.{table}') is not null", connection);
            if (!(bool)(await exists.ExecuteScalarAsync(ct))!) continue;
            await using var any = new NpgsqlCommand($"select exists (select from {table})", connection);
            if ((bool)(await any.ExecuteScalarAsync(ct))!)
                throw new ArchiveException($"The database is not empty: it has rows in {table}. Restore into a new, empty database.");
        }
    }

    private static async Task RunAsync(NpgsqlConnection connection, string sql, CancellationToken ct)
    {
        await using var command = new NpgsqlCommand(sql, connection) { CommandTimeout = 0 };
        await command.ExecuteNonQueryAsync(ct);
    }
}
