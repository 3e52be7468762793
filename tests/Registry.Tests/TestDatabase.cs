using Npgsql;
using Registry.Platform.Database;
using Registry.Platform.EmbeddedPostgres;
using Registry.Tests;
using Testcontainers.PostgreSql;

[assembly: AssemblyFixture(typeof(TestDatabase))]

// Tests wait for databases, processes and browsers more than they compute: four fill two cores. No more on a larger machine, whose
// connections to one server would be too many.
[assembly: Xunit.v3.Parallelization(MaxThreads = 4)]

namespace Registry.Tests;

/// <summary>
/// One PostgreSQL server for the whole run, best first: the connection string in <c>REGISTRY_TEST_DATABASE</c> (its role must
/// have createdb, createrole and bypassrls), a container when a Docker engine answers, else the embedded server in a temporary folder.
/// Every test asks for a database of its own.
/// </summary>
public sealed class TestDatabase : IAsyncLifetime
{
    private const string Image = "postgres:18";
    private const string FolderPrefix = "registry-tests-";
    private const string Memory = "/dev/shm";
    private const long MemoryNeeded = 4L << 30;

    // A test server's data is thrown away: trade durability for speed. Hundreds of databases would keep autovacuum busy.
    private static readonly Dictionary<string, string> ThrowAway = new()
    {
        ["fsync"] = "off",
        ["full_page_writes"] = "off",
        ["synchronous_commit"] = "off",
        ["autovacuum"] = "off",
        ["wal_level"] = "minimal",
        ["max_wal_senders"] = "0",
        ["max_wal_size"] = "1GB",
        ["checkpoint_timeout"] = "1h",
        ["max_connections"] = "300",
    };

    private readonly List<string> _created = [];
    private NpgsqlConnectionStringBuilder _server = new();
    private Func<ValueTask> _stop = () => ValueTask.CompletedTask;
    private bool _dropAtEnd;

    /// <summary>Which server the run uses.</summary>
    public string Description { get; private set; } = "not started";

    public async ValueTask InitializeAsync()
    {
        if (Environment.GetEnvironmentVariable("REGISTRY_TEST_DATABASE") is { Length: > 0 } configured)
        {
            _server = new NpgsqlConnectionStringBuilder(configured);
            _dropAtEnd = true;
            Description = $"the server on {_server.Host}, because REGISTRY_TEST_DATABASE is set";
        }
        else if (!await DockerEngine.AnswersAsync() || !await TryContainerAsync())
        {
            await StartEmbeddedAsync();
        }
        Console.WriteLine($"Tests run on {Description}.");
    }

    public async ValueTask DisposeAsync()
    {
        NpgsqlConnection.ClearAllPools();
        if (_dropAtEnd)
        {
            foreach (var name in _created) await RunAsync($"drop database if exists \"{name}\" with (force)");
        }
        await _stop();
    }

    /// <summary>Connection string of a new empty database.</summary>
    public Task<string> CreateDatabaseAsync() => CreateAsync("");

    /// <summary>Connection string of a new database that is a copy of <paramref name="template"/>, to which nobody may be
    /// connected.</summary>
    public Task<string> CreateFromTemplateAsync(string template) => CreateAsync($" template \"{template}\" strategy file_copy");

    /// <summary>Ends every connection to a database and lets nobody in any more: it can be copied.</summary>
    /// <returns>Its name.</returns>
    public async Task<string> CloseAsync(string connectionString)
    {
        var name = new NpgsqlConnectionStringBuilder(connectionString).Database!;
        // Only who is a member of a login may end its sessions.
        var logins = DatabaseLogins.Beside(connectionString);
        foreach (var login in new[] { logins.Writer, logins.Reader }.Select(l => new NpgsqlConnectionStringBuilder(l).Username))
            await RunAsync($"do $$ begin if exists (select from pg_roles where rolname = '{login}') then "
                + $"grant \"{login}\" to current_user with inherit true; end if; end $$");
        await RunAsync($"alter database \"{name}\" allow_connections false");
        await RunAsync($"select pg_terminate_backend(pid, 60000) from pg_stat_activity where datname = '{name}'");
        LeftDatabasesAttribute.Keep(name);
        return name;
    }

    private async Task<string> CreateAsync(string clause)
    {
        while (LeftDatabasesAttribute.TryTake(out var left)) await RunAsync($"drop database if exists \"{left}\" with (force)");
        var name = $"test_{Guid.CreateVersion7():n}";
        await RunAsync($"create database \"{name}\"{clause}");
        lock (_created) _created.Add(name);
        return new NpgsqlConnectionStringBuilder(_server.ConnectionString)
        {
            Database = name,
            Timeout = (int)Eventually.Patience.TotalSeconds,
            CommandTimeout = (int)Eventually.Patience.TotalSeconds,
        }.ConnectionString;
    }

    private async Task RunAsync(string sql)
    {
        await using var connection = new NpgsqlConnection(_server.ConnectionString);
        await connection.OpenAsync();
        await using var command = new NpgsqlCommand(sql, connection) { CommandTimeout = (int)Eventually.Patience.TotalSeconds };
        await command.ExecuteNonQueryAsync();
    }

    private async Task<bool> TryContainerAsync()
    {
        var container = new PostgreSqlBuilder(Image)
            .WithCommand([.. ThrowAway.SelectMany(s => new[] { "-c", $"{s.Key}={s.Value}" })]).Build();
        try
        {
            await container.StartAsync();
        }
        catch (Exception error)
        {
            Console.WriteLine($"Docker answers, but {Image} did not start ({error.Message}); using the embedded server.");
            await container.DisposeAsync();
            return false;
        }
        _stop = container.DisposeAsync;
        _server = new NpgsqlConnectionStringBuilder(container.GetConnectionString());
        // The same rights as in service: no superuser, so that row security holds in tests too.
        await RunAsync($"create role {EmbeddedServer.Role} login createdb createrole bypassrls password '{_server.Password}'");
        _server.Username = EmbeddedServer.Role;
        _server.Database = "postgres";
        Description = $"a container of {Image}, because a Docker engine answers";
        return true;
    }

    private async Task StartEmbeddedAsync()
    {
        await SweepAsync();
        foreach (var parent in Parents())
        {
            try
            {
                await StartEmbeddedAsync(Path.Combine(parent, FolderPrefix + Path.GetRandomFileName()));
                return;
            }
            catch (DatabaseStartException error) when (parent == Memory)
            {
                Console.WriteLine($"In {parent} the server did not start ({error.Message}); its data goes to a temporary folder.");
            }
        }
    }

    /// <summary>Where the data of the embedded server may lie, best first. A database is a thousand small files: copied in memory it costs
    /// a tenth of what it does on a disk.</summary>
    private static IEnumerable<string> Parents() => OperatingSystem.IsLinux() && Directory.Exists(Memory)
        && new DriveInfo(Memory).AvailableFreeSpace >= MemoryNeeded && GC.GetGCMemoryInfo().TotalAvailableMemoryBytes >= 2 * MemoryNeeded
        ? [Memory, Path.GetTempPath()] : [Path.GetTempPath()];

    private async Task StartEmbeddedAsync(string folder)
    {
        if (OperatingSystem.IsWindows()) Directory.CreateDirectory(folder);
        else Directory.CreateDirectory(folder, (UnixFileMode)Convert.ToInt32(Environment.IsPrivilegedProcess ? "711" : "700", 8));
        var server = await EmbeddedServer.StartAsync(new EmbeddedDatabaseOptions { DataFolder = folder }, Console.WriteLine,
            CancellationToken.None, ThrowAway);
        _server = new NpgsqlConnectionStringBuilder(server.ConnectionString("postgres"));
        _stop = async () =>
        {
            await server.DisposeAsync();
            try
            {
                Directory.Delete(folder, recursive: true);
            }
            catch (IOException)
            {
                // Another run is looking at the folder right now; the next one sweeps it.
            }
        };
        Description = $"{server.Description}, because no Docker engine answers";
    }

    /// <summary>Removes what killed runs left: their server, still running, and its folder.</summary>
    private static async Task SweepAsync()
    {
        foreach (var folder in new[] { Path.GetTempPath(), Memory }.Where(Directory.Exists)
            .SelectMany(parent => Directory.EnumerateDirectories(parent, FolderPrefix + "*")))
        {
            try
            {
                if (await EmbeddedServer.StopIfUnusedAsync(new EmbeddedDatabaseOptions { DataFolder = folder }, Console.WriteLine,
                    CancellationToken.None)
                    && Directory.GetCreationTimeUtc(folder) < DateTime.UtcNow.AddMinutes(-5))
                    Directory.Delete(folder, recursive: true);
            }
            catch (Exception error) when (error is IOException or UnauthorizedAccessException or DatabaseStartException)
            {
                // Another user's run, or one being swept right now.
            }
        }
    }
}
