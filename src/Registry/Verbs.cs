using System.Globalization;
using Microsoft.AspNetCore.Hosting.Server;
using Microsoft.AspNetCore.Hosting.Server.Features;
using Npgsql;
using Registry.Access;
using Registry.Accounts;
using Registry.Demo;
using Registry.Operations;
using Registry.Operations.Telemetry;
using Registry.Platform;
using Registry.Platform.Database;
using Registry.Platform.Jobs;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.SetUp;

namespace Registry;

/// <summary>
/// What the executable can do. Without a verb it serves; <c>migrate</c> brings the database up to date and exits;
/// <c>setup link</c> prints a link to begin with while nobody administers it;
/// <c>administrator --email ADDRESS --name NAME</c> adds one and prints the password to begin with; <c>verify-audit</c> checks the chain of
/// the access trail and exits with 1 when it is broken; <c>check</c> says what of the installation needs attention;
/// <c>backup --out FILE</c> writes everything into an encrypted file and <c>restore --from FILE</c> fills an empty database from it;
/// <c>demo generate --out FOLDER</c> writes the invented region's files; <c>demo load</c> loads them through the intake.
/// Both demo verbs take <c>--anchor yyyy-MM-dd</c>, <c>--births N</c> and <c>--seed N</c>.
/// </summary>
public static class Verbs
{
    /// <summary>The exit code of a start that is refused, and of a verb that is wrong.</summary>
    public const int NotStarted = 2;

    public static async Task<int> RunAsync(WebApplication app, string[] args)
    {
        var words = args.TakeWhile(a => !a.StartsWith('-')).ToArray();
        using var stop = new CancellationTokenSource();
        ConsoleCancelEventHandler onCtrlC = (_, e) =>
        {
            e.Cancel = true;
            stop.Cancel();
        };
        Console.CancelKeyPress += onCtrlC;
        try
        {
            switch (words)
            {
                case []:
                    await PrepareAsync(app, stop.Token);
                    Console.CancelKeyPress -= onCtrlC; // from here the host listens for it
                    await ServeAsync(app);
                    return 0;
                case ["migrate"]:
                    await MigrateAsync(app.Services, stop.Token);
                    return 0;
                case ["administrator"]:
                    return await AddAdministratorAsync(app);
                case ["setup", "link"]:
                    return await SetUpVerbs.LinkAsync(app, stop.Token);
                case ["verify-audit"]:
                    return await VerifyAuditAsync(app.Services, stop.Token);
                case ["check"]:
                    return await OperationsVerbs.CheckAsync(app, stop.Token);
                case ["backup"]:
                    return await OperationsVerbs.BackupAsync(app, stop.Token);
                case ["encrypt"]:
                    return await OperationsVerbs.EncryptAsync(app, stop.Token);
                case ["restore"]:
                    return await OperationsVerbs.RestoreAsync(app, () => MigrateSchemaAsync(app.Services, stop.Token), stop.Token);
                case ["demo", "generate"]:
                    return Generate(app, app.Configuration["out"]);
                case ["demo", "load"]:
                    await MigrateAsync(app.Services, stop.Token);
                    await LoadDemoRegion.RunAsync(app.Services, Region(app), Console.WriteLine, stop.Token);
                    return 0;
                default:
                    Console.Error.WriteLine(
                        $"'{string.Join(' ', words)}' is not a verb. There are: migrate, setup link, administrator, check, verify-audit, "
                        + "backup, restore, encrypt, keys new, keys add, demo generate, demo load; without one the program serves.");
                    return NotStarted;
            }
        }
        catch (Exception wrong) when (wrong is NotADemonstrationException || (wrong is ArgumentException && words is ["demo", _]))
        {
            Console.Error.WriteLine($"Not started: {wrong.Message}");
            return NotStarted;
        }
        catch (OperationCanceledException) when (stop.IsCancellationRequested)
        {
            Console.WriteLine("Stopped. The next start goes on from here.");
            return 130;
        }
    }

    /// <summary>Brings schema, logins, rights and starting policy up to date, as the tables' owner. Safe to repeat.</summary>
    public static async Task MigrateAsync(IServiceProvider services, CancellationToken ct)
    {
        await MigrateSchemaAsync(services, ct);
        await services.GetRequiredService<PolicyStore>().EnsureDefaultAsync(ct);
    }

    /// <summary>Brings the schema, the logins and their rights alone up to date: an archive brings the rest.</summary>
    public static async Task MigrateSchemaAsync(IServiceProvider services, CancellationToken ct)
    {
        var logins = services.GetRequiredService<DatabaseLogins>();
        await using var owner = NpgsqlDataSource.Create(logins.Owner ?? throw new InvalidOperationException(
            "ConnectionStrings:RegistryOwner is not set: the tables and the logins of web and worker are made by their owner."));
        await using var db = RecordsSetup.On(await owner.OpenConnectionAsync(ct));
        var applied = await MigrateDatabase.RunAsync(db, ct);
        await JobsSetup.MigrateJobsAsync(owner, ct);
        await using (var connection = await owner.OpenConnectionAsync(ct)) await GrantRights.RunAsync(connection, logins, ct);
        Console.WriteLine(applied.Count == 0 ? "Database: up to date." : $"Database: applied {string.Join(", ", applied)}.");
    }

    /// <summary>The private database migrates itself and gets the demo region; a configured one is left to the <c>migrate</c>
    /// verb.</summary>
    private static async Task PrepareAsync(WebApplication app, CancellationToken ct)
    {
        if (string.IsNullOrEmpty(app.Configuration.GetConnectionString("Registry"))) await MigrateAsync(app.Services, ct);
        try
        {
            await GrantRights.CheckAsync(app.Services.GetRequiredService<DatabaseLogins>(), ct);
        }
        catch (NpgsqlException)
        {
            // Logins that are not let in, because migrate has yet to make them, do no harm.
            Console.WriteLine("Database: the logins are not let in yet; run the migrate verb.");
        }

        await ReadProgramAsync(app.Services, ct);
        if (!Demonstration.Of(app.Configuration).IsOn) return;
        await LoadDemoRegion.MarkAsync(app.Services, ct);
        if (!await LoadDemoRegion.IsLoadedAsync(app.Services, ct))
            await LoadDemoRegion.RunAsync(app.Services, Region(app), Console.WriteLine, ct);
    }

    /// <summary>What the program stated of itself, before the first page or job asks for it.</summary>
    private static async Task ReadProgramAsync(IServiceProvider services, CancellationToken ct)
    {
        try
        {
            await services.GetRequiredService<ProgramInForce>().ReadAsync(ct);
        }
        catch (NpgsqlException)
        {
            // Not there yet, or not reached: it is asked for again while the program serves.
        }
    }

    /// <summary>Says whether the trail is intact, and else which entry is the first that is not.</summary>
    private static async Task<int> VerifyAuditAsync(IServiceProvider services, CancellationToken ct)
    {
        await using var scope = services.CreateAsyncScope();
        var found = await scope.ServiceProvider.GetRequiredService<VerifyTrail>().RunAsync(ct);
        Console.WriteLine(VerifyTrail.Say(found));
        return found.Problem is null ? 0 : 1;
    }

    private static async Task ServeAsync(WebApplication app)
    {
        await app.StartAsync();
        var addresses = (app.Services.GetRequiredService<IServer>().Features.Get<IServerAddressesFeature>()?.Addresses ?? [])
            .Where(a => !TelemetrySetup.IsForMetrics(app.Configuration, a)).ToList();
        foreach (var address in addresses) Console.WriteLine($"Open {address}");
        if (addresses.Count > 0) await SetUpVerbs.SayWhenNewAsync(app, addresses[0], CancellationToken.None);
        if (Demonstration.Of(app.Configuration).IsOn)
        {
            Console.WriteLine($"Sign in with the password \"{DemoPeople.Password}\" as");
            foreach (var person in DemoPeople.All) Console.WriteLine($"  {person.Email,-34} {person.As}");
        }

        Console.WriteLine("Ctrl-C stops.");
        await app.WaitForShutdownAsync();
    }

    /// <summary>The first of them can be made by nobody on a page.</summary>
    private static async Task<int> AddAdministratorAsync(WebApplication app)
    {
        if (app.Configuration["email"] is not { Length: > 0 } email || app.Configuration["name"] is not { Length: > 0 } name)
        {
            Console.Error.WriteLine("Say who: administrator --email ADDRESS --name \"NAME\"");
            return NotStarted;
        }

        await using var scope = app.Services.CreateAsyncScope();
        var (password, problems) = await scope.ServiceProvider.GetRequiredService<ManagePeople>()
            .AddAsync(email, name, Role.Administrator, null);
        foreach (var problem in problems) Console.Error.WriteLine(problem);
        if (password is null) return NotStarted;
        Console.WriteLine($"{email} signs in with the password {password} and then chooses another, within "
            + $"{ManagePeople.GivenFor.Days} days.");
        return 0;
    }

    private static int Generate(WebApplication app, string? folder)
    {
        if (string.IsNullOrEmpty(folder))
        {
            Console.Error.WriteLine("Say where to: demo generate --out FOLDER");
            return NotStarted;
        }

        Directory.CreateDirectory(folder);
        var (files, rows) = (0, 0);
        foreach (var submission in Region(app).Submissions())
        {
            File.WriteAllBytes(Path.Combine(folder, submission.FileName), submission.Content);
            (files, rows) = (files + 1, rows + submission.Rows);
        }

        Console.WriteLine($"Wrote {files:#,0} files with {rows:#,0} rows to {folder}.");
        return 0;
    }

    private static DemoRegion Region(WebApplication app)
    {
        var anchor = Setting("anchor");
        return new DemoRegion(
            anchor is null ? app.Services.GetRequiredService<ProgramClock>().Today
                : DateOnly.TryParseExact(anchor, "yyyy-MM-dd", CultureInfo.InvariantCulture, DateTimeStyles.None, out var day)
                    && day.Year > 1950 ? day
                : throw new ArgumentException($"--anchor '{anchor}' is not a date (yyyy-MM-dd)."),
            Whole("births", DemoRegion.DefaultBirths, 100, 5_000_000),
            (ulong)Whole("seed", (int)DemoRegion.DefaultSeed, 0, int.MaxValue));

        string? Setting(string name) => app.Configuration[name] ?? app.Configuration[$"Demo:{name}"];

        int Whole(string name, int otherwise, int low, int high) =>
            Setting(name) is not { } text ? otherwise
            : int.TryParse(text, NumberStyles.None, CultureInfo.InvariantCulture, out var n) && n >= low && n <= high ? n
            : throw new ArgumentException($"--{name} '{text}' is not a whole number from {low:#,0} to {high:#,0}.");
    }
}
