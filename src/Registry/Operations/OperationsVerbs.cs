using Microsoft.Extensions.Options;
using Npgsql;
using Registry.Operations.Backup;
using Registry.Operations.Checks;
using Registry.Operations.Encryption;
using Registry.Platform.Database;
using Registry.Platform.Encryption;
using Registry.Records;

namespace Registry.Operations;

/// <summary>The verbs of whoever runs the registry, on the command line: what they did or what is missing, and an exit code.</summary>
internal static class OperationsVerbs
{
    private const int Done = 0, NotDone = 1, NotUnderstood = 2;

    /// <summary><c>check</c>: a line for each thing that was looked at, what to do, and whether anything is broken.</summary>
    public static async Task<int> CheckAsync(WebApplication app, CancellationToken ct)
    {
        var lines = await app.Services.GetRequiredService<CheckInstallation>().RunAsync(reachOthers: true, ct);
        foreach (var line in lines)
        {
            Console.WriteLine($"{OperationsWords.Of(line.State),-12} {line.Subject,-14} {line.Says}");
            if (line.Do is { } what) Console.WriteLine($"{"",-27} {what}");
        }

        return lines.Any(l => l.State == CheckState.Broken) ? NotDone : Done;
    }

    /// <summary><c>backup --out FILE</c>, or a folder: the file is named by the moment then.</summary>
    public static async Task<int> BackupAsync(WebApplication app, CancellationToken ct)
    {
        if (app.Configuration["out"] is not { Length: > 0 } to) return Ask("Say where to: backup --out FILE (or a folder)");
        if (Passphrase(app) is not { } passphrase) return AskPassphrase();
        var time = app.Services.GetRequiredService<TimeProvider>();
        var file = Directory.Exists(to) ? Path.Combine(to, $"registry-{time.GetUtcNow():yyyyMMdd'T'HHmmss'Z'}.backup") : to;
        if (File.Exists(file)) return Ask($"{file} is there already; a backup is never written over.");
        await using var owner = Owner(app);
        var record = await TakeBackup.RunAsync(owner, file, passphrase, time, ct);
        Console.WriteLine($"Backup: {record.Rows:#,0} rows of {record.Tables} tables, {record.Bytes:#,0} bytes, as of {record.TakenAt:u}, "
            + $"in {file}. Without the passphrase it cannot be read: keep that elsewhere.");
        return Done;
    }

    /// <summary><c>restore --from FILE</c>, into an empty database.</summary>
    public static async Task<int> RestoreAsync(WebApplication app, Func<Task> migrate, CancellationToken ct)
    {
        if (app.Configuration["from"] is not { Length: > 0 } file || !File.Exists(file)) return Ask("Say what from: restore --from FILE");
        if (Passphrase(app) is not { } passphrase) return AskPassphrase();
        try
        {
            await using var scope = app.Services.CreateAsyncScope();
            var needs = (await MigrateDatabase.VersionsAsync(scope.ServiceProvider.GetRequiredService<RegistryDb>(), ct)).Needs;
            await using var owner = Owner(app);
            var (manifest, rows) = await RestoreBackup.RunAsync(owner, file, passphrase, needs, migrate, ct);
            Console.WriteLine(
                $"Restored: {rows:#,0} rows of {manifest.Tables.Count} tables, as of {manifest.TakenAt:u}. Run check, then start.");
            return Done;
        }
        catch (ArchiveException cannot)
        {
            Console.Error.WriteLine(cannot.Message);
            return NotDone;
        }
    }

    /// <summary><c>encrypt</c>: what is stored with no key, or an older one, is encrypted with the current one.</summary>
    public static async Task<int> EncryptAsync(WebApplication app, CancellationToken ct)
    {
        await using var owner = Owner(app);
        var total = await EncryptStored.RunAsync(owner, FieldKeys.OfProcess, Console.WriteLine, ct);
        Console.WriteLine($"Encrypted {total:#,0} rows with key {FieldKeys.OfProcess.CurrentId}; everything else was already. Older "
            + "keys are needed for older backups only.");
        return Done;
    }

    /// <summary>Reads the field keys every start needs. <c>keys new --out FILE</c> makes a file of them, <c>keys add --to FILE</c> adds one
    /// to it: before anything else, because neither needs a database.</summary>
    /// <returns>The exit code; null to go on.</returns>
    public static async Task<int?> ReadKeysAsync(WebApplicationBuilder builder, string[] args)
    {
        var configuration = builder.Configuration;
        try
        {
            switch (args.TakeWhile(a => !a.StartsWith('-')).ToArray())
            {
                case ["keys", "new"] when configuration["out"] is { Length: > 0 } file:
                    FieldKeyFile.Create(file);
                    Console.WriteLine($"{file} has a first key. Set {FieldKeyFile.Setting} to it, and keep a copy apart from the backups.");
                    return Done;
                case ["keys", "add"] when configuration["to"] is { Length: > 0 } file:
                    Console.WriteLine(
                        $"Key {FieldKeyFile.Add(file)} encrypts from the next start on. Restart every process, then run encrypt.");
                    return Done;
                case ["keys", ..]:
                    return Ask("Say what: keys new --out FILE, or keys add --to FILE");
                default:
                    FieldKeys.Use(await FieldKeyFile.LoadAsync(configuration, builder.Environment, CancellationToken.None));
                    return null;
            }
        }
        catch (Exception cannot) when (cannot is IOException or UnauthorizedAccessException or FieldKeyException)
        {
            return Ask(cannot.Message);
        }
    }

    private static string? Passphrase(WebApplication app) =>
        app.Services.GetRequiredService<IOptions<OperationsOptions>>().Value.BackupPassphrase is { Length: > 0 } set ? set : null;

    /// <summary>The database as the owner of its tables, by <c>ConnectionStrings:RegistryOwner</c>; a backup reads as well as the
    /// writer.</summary>
    private static NpgsqlDataSource Owner(WebApplication app)
    {
        var logins = app.Services.GetRequiredService<DatabaseLogins>();
        return NpgsqlDataSource.Create(logins.Owner ?? logins.Writer);
    }

    private static int AskPassphrase() =>
        Ask("Set Operations:BackupPassphrase (16 characters at least), as a secret file or a variable: backups are encrypted.");

    private static int Ask(string what)
    {
        Console.Error.WriteLine(what);
        return NotUnderstood;
    }
}
