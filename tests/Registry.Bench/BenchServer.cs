using Microsoft.EntityFrameworkCore;
using Microsoft.Extensions.Configuration;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Options;
using Npgsql;
using Registry.Access;
using Registry.Intake;
using Registry.Platform;
using Registry.Platform.Database;
using Registry.Platform.EmbeddedPostgres;
using Registry.Platform.Encryption;
using Registry.Platform.Jobs;
using Registry.PolicyVersions;
using Registry.Records;

namespace Registry.Bench;

/// <summary>A private PostgreSQL in a temporary folder for one benchmark: its own settings are the program's, fsync on. Gone
/// afterwards.</summary>
internal sealed class BenchServer : IAsyncDisposable
{
    private readonly EmbeddedServer _server;

    private BenchServer(EmbeddedServer server, string folder) => (_server, Folder) = (server, folder);

    public string Folder { get; }

    public static async Task<BenchServer> StartAsync()
    {
        var folder = Directory.CreateTempSubdirectory("registry-bench-").FullName;
        var keys = Path.Combine(folder, "field-keys");
        FieldKeyFile.Create(keys);
        FieldKeys.Use(FieldKeyFile.Read(keys));
        if (!OperatingSystem.IsWindows()) File.SetUnixFileMode(folder, (UnixFileMode)Convert.ToInt32("711", 8));
        return new(await EmbeddedServer.StartAsync(new EmbeddedDatabaseOptions { DataFolder = folder }, Console.WriteLine,
            CancellationToken.None), folder);
    }

    /// <summary>Makes and migrates a database.</summary>
    /// <returns>Its owner's connection string.</returns>
    public async Task<string> CreateAsync(string database)
    {
        await using (var server = NpgsqlDataSource.Create(_server.ConnectionString("postgres")))
        await using (var create = server.CreateCommand($"create database {database}"))
            await create.ExecuteNonQueryAsync();
        var connection = Connection(database);
        await using var services = Services(connection);
        await using var scope = services.CreateAsyncScope();
        await scope.ServiceProvider.GetRequiredService<RegistryDb>().Database.MigrateAsync();
        var source = services.GetRequiredService<NpgsqlDataSource>();
        await JobsSetup.MigrateJobsAsync(source, CancellationToken.None);
        await using (var owner = await source.OpenConnectionAsync())
            await GrantRights.RunAsync(owner, DatabaseLogins.Beside(connection), CancellationToken.None);
        await services.GetRequiredService<PolicyStore>().EnsureDefaultAsync(CancellationToken.None);
        return connection;
    }

    /// <summary>The owner's connections for bare statements: prepared as the program's are (<see cref="Access.ViewerDatabase"/>), so that a
    /// limit does not hold planning that the program is spared.</summary>
    public static NpgsqlDataSource Prepared(string owner) => NpgsqlDataSource.Create(
        new NpgsqlConnectionStringBuilder(owner) { MaxAutoPrepare = 200, AutoPrepareMinUsages = 2 });

    /// <summary>Adds the hospital that sends.</summary>
    public static async Task<SiteId> AddSiteAsync(ServiceProvider services)
    {
        var site = new Site { Id = SiteId.New(), Code = "bench", Name = "Bench Hospital", County = "Lind" };
        await using var scope = services.CreateAsyncScope();
        var db = scope.ServiceProvider.GetRequiredService<RegistryDb>();
        db.Sites.Add(site);
        await db.SaveChangesAsync();
        return site.Id;
    }

    public string Connection(string database) => new NpgsqlConnectionStringBuilder(
        _server.ConnectionString("postgres"))
    { Database = database }.ConnectionString;

    /// <summary>For what only the server's own files can measure.</summary>
    public string SuperuserConnection(string database) => new NpgsqlConnectionStringBuilder(
        Connection(database))
    { Username = "postgres" }.ConnectionString;

    /// <summary>The part of the program a benchmark runs, on one database.</summary>
    public static ServiceProvider Services(string connectionString) => new ServiceCollection()
        .AddSingleton<IConfiguration>(new ConfigurationBuilder().Build())
        .AddLogging()
        .AddSingleton(TimeProvider.System)
        .AddSingleton(Options.Create(new ProgramOptions { Today = new DateOnly(2026, 11, 25) }))
        .AddSingleton<ProgramClock>()
        .AddRecords(connectionString)
        .AddPolicyVersions()
        .AddIntake()
        .BuildServiceProvider();

    public async ValueTask DisposeAsync()
    {
        NpgsqlConnection.ClearAllPools();
        await _server.DisposeAsync();
        Directory.Delete(Folder, recursive: true);
    }
}
