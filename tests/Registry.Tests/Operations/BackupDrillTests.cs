using System.Globalization;
using Npgsql;
using Registry.Operations.Backup;
using Registry.Records;
using Registry.Tests.Intake;

namespace Registry.Tests.Operations;

/// <summary>The drill: a registry is backed up while it is used, lost, and restored; it answers the same to the last digit.</summary>
public sealed class BackupDrillTests(TestDatabase database) : IDisposable
{
    private const string Passphrase = "seventeen quiet otters";

    private readonly string _folder = Directory.CreateTempSubdirectory("registry-drill-").FullName;

    private string File => Path.Combine(_folder, "drill.backup");

    [Fact]
    public async Task A_restored_registry_has_every_row_and_gives_the_same_measures_to_the_last_digit()
    {
        await using var bed = await IntakeBed.StartWithRegionAsync(database);
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var measures = await AskAsync(coordinator);
        var before = await HashesAsync(bed.Source);
        Assert.True(before.Count > 30, $"{before.Count} tables");

        // Rows that arrive while it is written are in it wholly or not at all: here they come after its snapshot.
        var record = await TakeAsync(bed.Source);
        await bed.SendAsync("kind,record_number,birth_date,sex\nbirth,after-the-backup,2026-11-01,female\n");
        Assert.NotEqual(before["births"], (await HashesAsync(bed.Source))["births"]);

        await using var restored = await RestoreAsync();
        var after = await HashesAsync(restored.Source);
        // Each table by its rows and their values; the record of the backup itself was written after its snapshot.
        Assert.Equal(before.OrderBy(t => t.Key), after.OrderBy(t => t.Key));
        Assert.Equal(before.Values.Sum(t => t.Rows), record.Rows);

        using var again = await SignedIn.AsAsync(await IntakeBed.OnAsync(restored), Role.Coordinator, null);
        Assert.Equal(measures, await AskAsync(again));

        // It goes on: guards are in force, identities continue, rows are taken in.
        await Assert.ThrowsAsync<PostgresException>(() => RunAsync(restored.Source, "delete from births"));
        var bedAgain = await IntakeBed.OnAsync(restored);
        await bedAgain.SendAsync("kind,record_number,birth_date,sex\nbirth,after-the-restore,2026-11-01,female\n");
        Assert.Equal(before["births"].Rows + 1, await bedAgain.CountAsync("births"));
    }

    [Fact]
    public async Task A_backup_with_another_passphrase_changed_or_cut_short_is_refused_and_restores_nothing()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync("kind,record_number,birth_date,sex,mother_family_name\nbirth,1,2026-11-01,female,Quillfeather\n");
        await TakeAsync(bed.Source);
        var bytes = await System.IO.File.ReadAllBytesAsync(File, IntakeBed.Ct);
        // Nothing of it can be read without the passphrase.
        Assert.Equal(-1, bytes.AsSpan().IndexOf("Quillfeather"u8));
        Assert.Equal(-1, bytes.AsSpan().IndexOf("births"u8));

        await RefusedAsync("the passphrase is another", passphrase: "seventeen quiet badgers");
        for (var at = 0; at < bytes.Length; at += Math.Max(1, bytes.Length / 12))
        {
            var changed = bytes.ToArray();
            changed[at] ^= 1;
            await System.IO.File.WriteAllBytesAsync(File, changed, IntakeBed.Ct);
            await RefusedAsync("");
        }

        await System.IO.File.WriteAllBytesAsync(File, bytes[..^17], IntakeBed.Ct);
        await RefusedAsync("");
        await System.IO.File.WriteAllBytesAsync(File, [.. bytes, 0], IntakeBed.Ct);
        await RefusedAsync("");
    }

    [Fact]
    public async Task A_piece_left_out_moved_or_cut_off_is_noticed()
    {
        var key = ArchiveKey.New(Passphrase);
        var plain = new byte[(2 * ArchiveKey.PieceBytes) + 5];
        new Random(7).NextBytes(plain);
        using var whole = new MemoryStream();
        await using (var seal = new SealStream(whole, key))
        {
            await seal.WriteAsync(plain, IntakeBed.Ct);
            await seal.FinishAsync(IntakeBed.Ct);
        }

        const int piece = ArchiveKey.PieceBytes + ArchiveKey.TagBytes;
        var bytes = whole.ToArray();
        Assert.Equal(plain, await OpenAsync(bytes));
        byte[] first = bytes[..piece], second = bytes[piece..(2 * piece)], last = bytes[(2 * piece)..];
        foreach (var tampered in (byte[][])[[.. first, .. second], [.. second, .. first, .. last], [.. first, .. last], [.. last], first])
            await Assert.ThrowsAsync<ArchiveException>(() => OpenAsync(tampered));

        async Task<byte[]> OpenAsync(byte[] from)
        {
            await using var open = new UnsealStream(new MemoryStream(from), key);
            using var to = new MemoryStream();
            await open.CopyToAsync(to, IntakeBed.Ct);
            return to.ToArray();
        }
    }

    [Fact]
    public async Task A_database_that_is_somebodys_or_of_another_schema_is_left_alone()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await TakeAsync(bed.Source);
        var before = await HashesAsync(bed.Source);
        var needs = await NeedsAsync(bed.App);
        await using var owner = NpgsqlDataSource.Create(bed.App.Logins.Owner!);
        var refused = await Assert.ThrowsAsync<ArchiveException>(() => RestoreBackup.RunAsync(
            owner, File, Passphrase, needs, () => Task.CompletedTask, IntakeBed.Ct));
        Assert.Contains("not empty", refused.Message, StringComparison.Ordinal);
        Assert.Equal(before.OrderBy(t => t.Key), (await HashesAsync(bed.Source)).OrderBy(t => t.Key));

        await using var empty = NpgsqlDataSource.Create(await database.CreateDatabaseAsync());
        var other = await Assert.ThrowsAsync<ArchiveException>(() => RestoreBackup.RunAsync(
            empty, File, Passphrase, "20991231000000_Later", () => throw new InvalidOperationException("must not be reached"),
            IntakeBed.Ct));
        Assert.Contains("has schema", other.Message, StringComparison.Ordinal);
    }

    private async Task<BackupRecord> TakeAsync(NpgsqlDataSource source)
    {
        var record = await TakeBackup.RunAsync(source, File, Passphrase, TimeProvider.System, IntakeBed.Ct);
        Assert.Equal(new FileInfo(File).Length, record.Bytes);
        if (!OperatingSystem.IsWindows())
            Assert.Equal(UnixFileMode.UserRead | UnixFileMode.UserWrite, System.IO.File.GetUnixFileMode(File));
        return record;
    }

    private async Task<RegistryApp> RestoreAsync(string passphrase = Passphrase)
    {
        var app = RegistryApp.On(await database.CreateDatabaseAsync(),
            new Dictionary<string, string?> { ["Access:AllowHttp"] = "true" });
        await using var owner = NpgsqlDataSource.Create(app.Logins.Owner!);
        try
        {
            var needs = await NeedsAsync(app);
            await RestoreBackup.RunAsync(owner, File, passphrase, needs,
                () => Verbs.MigrateSchemaAsync(app.Services, IntakeBed.Ct), IntakeBed.Ct);
            return app;
        }
        catch
        {
            // What was refused left no row behind.
            if ((await HashesAsync(owner)).TryGetValue("births", out var births)) Assert.Equal(0, births.Rows);
            await app.DisposeAsync();
            throw;
        }
    }

    private async Task RefusedAsync(string says, string passphrase = Passphrase)
    {
        var refused = await Assert.ThrowsAnyAsync<Exception>(() => RestoreAsync(passphrase));
        Assert.True(refused is ArchiveException, refused.ToString());
        Assert.Contains(says, refused.Message, StringComparison.Ordinal);
    }

    private static async Task<string> NeedsAsync(RegistryApp app)
    {
        await using var db = app.OpenDb();
        return (await MigrateDatabase.VersionsAsync(db, IntakeBed.Ct)).Needs;
    }

    private static async Task<string> AskAsync(HttpClient client)
    {
        var year = await client.GetStringAsync("/api/v1/measures?from=2025-01-01&to=2025-12-31&asOf=2026-10-31&breakdown=site", IntakeBed.Ct);
        var now = await client.GetStringAsync("/api/v1/measures?from=2026-01-01&to=2026-10-31&asOf=2026-11-24", IntakeBed.Ct);
        var statuses = await client.GetStringAsync("/api/v1/export/statuses?asOf=2026-11-25&format=csv", IntakeBed.Ct);
        return string.Join('\n', [year, now, .. statuses.Split('\n').Order(StringComparer.Ordinal)]);
    }

    /// <summary>Rows and a hash of all values of each table, read without the code under test. What a sign-in writes, and the record of
    /// backups, are left out.</summary>
    private static async Task<Dictionary<string, (long Rows, string Hash)>> HashesAsync(NpgsqlDataSource source)
    {
        var names = new List<string>();
        await using (var command = source.CreateCommand(
            "select quote_ident(tablename) from pg_tables where schemaname = 'public' and tablename not in "
            + "('status_snapshots', 'infant_status_snapshot', 'backups', '__EFMigrationsHistory')"))
        {
            await using var reader = await command.ExecuteReaderAsync(IntakeBed.Ct);
            while (await reader.ReadAsync(IntakeBed.Ct)) names.Add(reader.GetString(0));
        }

        var hashes = new Dictionary<string, (long, string)>();
        foreach (var name in names)
        {
            await using var command = source.CreateCommand(string.Create(CultureInfo.InvariantCulture,
                $"select count(*), md5(coalesce(string_agg(t::text, E'\\n' order by t::text collate \"C\"), '')) from {name} t"));
            await using var reader = await command.ExecuteReaderAsync(IntakeBed.Ct);
            await reader.ReadAsync(IntakeBed.Ct);
            hashes.Add(name, (reader.GetInt64(0), reader.GetString(1)));
        }

        return hashes;
    }

    private static async Task RunAsync(NpgsqlDataSource source, string sql)
    {
        await using var command = source.CreateCommand(sql);
        await command.ExecuteNonQueryAsync(IntakeBed.Ct);
    }

    public void Dispose() => Directory.Delete(_folder, recursive: true);
}
