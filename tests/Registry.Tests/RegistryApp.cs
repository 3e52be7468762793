using System.Collections.Concurrent;
using System.Globalization;
using System.Net;
using System.Security.Cryptography.X509Certificates;
using Microsoft.AspNetCore.Hosting;
using Microsoft.AspNetCore.Identity;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.ModelBinding;
using Microsoft.AspNetCore.Mvc.ModelBinding.Metadata;
using Microsoft.AspNetCore.Mvc.Testing;
using Microsoft.AspNetCore.TestHost;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Options;
using Npgsql;
using Registry.Demo;
using Registry.Platform.Database;
using Registry.Platform.Encryption;
using Registry.Records;

namespace Registry.Tests;

/// <summary>
/// The whole program on a database of its own, with today pinned. The schema is migrated once a run and then copied.
/// Background jobs do not run by themselves (<c>Role</c> is <c>web</c>): a test calls what it tests.
/// </summary>
public sealed class RegistryApp : WebApplicationFactory<Program>
{
    /// <summary>The day every test lives in, unless it pins another.</summary>
    public static readonly DateOnly DefaultToday = new(2026, 11, 25);

    private static readonly ConcurrentDictionary<string, Lazy<Task<string>>> Templates = [];

    /// <summary>The run's own field keys, removed with its folder of temporary files.</summary>
    private static readonly Lazy<string> KeyFile = new(() =>
    {
        var file = Path.Combine(Directory.CreateTempSubdirectory("registry-keys-").FullName, "field-keys");
        FieldKeyFile.Create(file);
        return file;
    });

    private readonly Dictionary<string, string?> _settings;
    private readonly string _database;
    private bool _ended;

    private RegistryApp(string owner, DateOnly today, IReadOnlyDictionary<string, string?>? settings)
    {
        Logins = DatabaseLogins.Beside(owner);
        _database = new NpgsqlConnectionStringBuilder(owner).Database!;
        LeftDatabasesAttribute.Enter(_database);
        Today = today;
        _settings = new(settings ?? new Dictionary<string, string?>())
        {
            ["ConnectionStrings:Registry"] = Logins.Writer,
            ["ConnectionStrings:RegistryReader"] = Logins.Reader,
            ["ConnectionStrings:RegistryOwner"] = Logins.Owner,
            ["Program:Today"] = today.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture),
        };
        _settings.TryAdd("Role", "web");
        _settings.TryAdd("Access:RequireSecondFactor", "false"); // tests of the second factor ask for it
        _settings["Encryption:KeyFile"] = KeyFile.Value; // a deployment's lies where no test machine has one
        _settings.TryAdd("Serilog:MinimumLevel:Default", "Warning");
        // The system watches a limited number of folders, for all programs of a user together.
        _settings.TryAdd("hostBuilder:reloadConfigOnChange", "false");
        Environment.SetEnvironmentVariable("DOTNET_USE_POLLING_FILE_WATCHER", "1");
    }

    private const string OutboxPrefix = "registry-outbox-";

    /// <summary>A folder for letters of one program (<c>Outreach:Folder</c>), removed with it.</summary>
    public static string NewOutbox() => Path.Combine(Path.GetTempPath(), $"{OutboxPrefix}{Guid.CreateVersion7():n}");

    /// <summary>The file of the run's field keys, for a program beside this one.</summary>
    public static string Keys => KeyFile.Value;

    private readonly ConcurrentBag<IAsyncDisposable> _first = [];

    /// <summary>What ends before the program does: a page left open draws and asks on until the run ends.</summary>
    public void DisposeFirst(IAsyncDisposable thing) => _first.Add(thing);

    public override async ValueTask DisposeAsync()
    {
        foreach (var thing in _first) await thing.DisposeAsync();
        _first.Clear();
        await base.DisposeAsync();
        if (!_ended) LeftDatabasesAttribute.Leave(_database);
        _ended = true;
        // The folder of letters that a test made goes with its program.
        if (_settings.GetValueOrDefault("Outreach:Folder") is { } letters
            && Path.GetFileName(letters).StartsWith(OutboxPrefix, StringComparison.Ordinal) && Directory.Exists(letters))
            Directory.Delete(letters, recursive: true);
        GC.SuppressFinalize(this);
    }

    public DatabaseLogins Logins { get; }

    public DateOnly Today { get; }

    /// <summary>The owner of the tables, who may what the program may not.</summary>
    public async Task<int> AsOwnerAsync(string sql)
    {
        await using var owner = new NpgsqlDataSourceBuilder(Logins.Owner + ";Pooling=false").WithoutTypeLoading().Build();
        await using var command = owner.CreateCommand(sql);
        return await command.ExecuteNonQueryAsync();
    }

    public NpgsqlDataSource Source => Services.GetRequiredService<NpgsqlDataSource>();

    /// <summary>A running program on a fresh, migrated database.</summary>
    public static async Task<RegistryApp> StartAsync(
        TestDatabase database, DateOnly? today = null, IReadOnlyDictionary<string, string?>? settings = null) =>
        new(await database.CreateFromTemplateAsync(await MigratedAsync(database)), today ?? DefaultToday, settings);

    /// <summary>One more process on a database that another one uses.</summary>
    public static RegistryApp On(
        string connectionString, IReadOnlyDictionary<string, string?>? settings = null, DateOnly? today = null) =>
        new(connectionString, today ?? DefaultToday, settings);

    /// <summary>The same on a database that <paramref name="prepare"/> filled, once a run for each name.</summary>
    public static async Task<RegistryApp> StartAsync(TestDatabase database, string name, Func<RegistryApp, Task> prepare,
        IReadOnlyDictionary<string, string?>? settings = null)
    {
        var template = await TemplateAsync(database, name, async connectionString =>
        {
            await using var app = new RegistryApp(connectionString, DefaultToday, null);
            await prepare(app);
        }, await MigratedAsync(database));
        return new(await database.CreateFromTemplateAsync(template), DefaultToday, settings);
    }

    /// <summary>The same on the demonstration of so many births, loaded once a run.</summary>
    public static Task<RegistryApp> StartWithDemonstrationAsync(TestDatabase database, int births = DemoRegion.DefaultBirths,
        ulong seed = DemoRegion.DefaultSeed, IReadOnlyDictionary<string, string?>? settings = null) =>
        StartAsync(database, $"demonstration {births} {seed}",
            app => LoadDemoRegion.RunAsync(app.Services, new(app.Today, births, seed), _ => { }, default), settings);

    /// <summary>Puts it behind a real loopback port, for a browser or a socket.</summary>
    public RegistryApp Listen()
    {
        // By an endpoint of its own: a port given as a number is set when the program may have begun to listen already, which fails.
        UseKestrel(kestrel => kestrel.Listen(IPAddress.Loopback, 0));
        StartServer();
        return this;
    }

    /// <summary>Puts it behind a real loopback port with TLS of its own.</summary>
    public RegistryApp ListenByTls(X509Certificate2 certificate)
    {
        UseKestrel(kestrel => kestrel.Listen(IPAddress.Loopback, 0, listen => listen.UseHttps(certificate)));
        StartServer();
        return this;
    }

    /// <summary>The same program behind a real loopback port, for a browser.</summary>
    public static async Task<RegistryApp> ListenAsync(
        TestDatabase database, DateOnly? today = null, IReadOnlyDictionary<string, string?>? settings = null) =>
        (await StartAsync(database, today, settings)).Listen();

    /// <summary>Where a browser finds it, after <see cref="ListenAsync"/>.</summary>
    public string Address => ClientOptions.BaseAddress.ToString();

    /// <summary>A scope's own <see cref="RegistryDb"/>; dispose it.</summary>
    public RegistryDb OpenDb() => RecordsSetup.On(Source.CreateConnection());

    protected override void ConfigureWebHost(IWebHostBuilder builder)
    {
        foreach (var (key, value) in _settings) builder.UseSetting(key, value);
        // A password of a test withstands nobody: hashing it a hundred thousand times only takes time.
        builder.ConfigureTestServices(s => s.Configure<PasswordHasherOptions>(o => o.IterationCount = 10)
            .AddSingleton(p => LazyInitializer.EnsureInitialized(ref _models, () => new DefaultModelMetadataProvider(
                p.GetRequiredService<ICompositeMetadataDetailsProvider>(), p.GetRequiredService<IOptions<MvcOptions>>()))));
    }

    /// <summary>What the properties of pages are called and demand, read from their types: the same for every program of the run.</summary>
    private static IModelMetadataProvider? _models;

    protected override void ConfigureClient(HttpClient client)
    {
        base.ConfigureClient(client);
        client.Timeout = Eventually.Patience;
    }

    private static Task<string> MigratedAsync(TestDatabase database) => TemplateAsync(database, "migrated", async connectionString =>
    {
        await using var app = new RegistryApp(connectionString, DefaultToday, null);
        await Verbs.MigrateAsync(app.Services, CancellationToken.None);
    });

    /// <summary>Name of a database that nobody is connected to any more, made once a run.</summary>
    private static Task<string> TemplateAsync(TestDatabase database, string name, Func<string, Task> prepare, string? from = null) =>
        Templates.GetOrAdd(name, _ => new(async () =>
        {
            var connectionString = from is null ? await database.CreateDatabaseAsync() : await database.CreateFromTemplateAsync(from);
            await prepare(connectionString);
            return await database.CloseAsync(connectionString);
        })).Value;
}
