using System.Diagnostics;
using Npgsql;

namespace Registry.Platform.EmbeddedPostgres;

/// <summary>
/// A private PostgreSQL server for a machine that has none. Started by <c>pg_ctl</c>, which gives the server a session
/// of its own: Ctrl-C in a terminal reaches the service alone, and the server stops only after the service has finished.
/// A server that outlived a killed service is taken over by the next start. Several processes may share one data folder:
/// the first starts the server, the last one out stops it.
/// </summary>
public sealed class EmbeddedServer : IAsyncDisposable
{
    /// <summary>The role that owns the databases and makes the roles web and worker connect as. No superuser.</summary>
    public const string Role = "registry";

    private readonly DataFolder _folder;
    private readonly ServerAccount _account;
    private readonly PostgresServer _server;
    private readonly PostmasterPid _process;
    private readonly string _password;
    private readonly Action<string> _say;
    private IDisposable? _inUse;

    private EmbeddedServer(DataFolder folder, ServerAccount account, PostgresServer server, PostmasterPid process, string password,
        bool adopted, IDisposable inUse, Action<string> say)
    {
        (_folder, _account, _server, _process, _password, _inUse, _say) = (folder, account, server, process, password, inUse, say);
        WasRunning = adopted;
        AppDomain.CurrentDomain.ProcessExit += StopAtProcessExit;
    }

    /// <summary>Process id of the server.</summary>
    public int ProcessId => _process.ProcessId;

    /// <summary>True when the server was already running and has been taken over or is shared.</summary>
    public bool WasRunning { get; }

    /// <summary>For people: version, origin and data folder.</summary>
    public string Description =>
        $"embedded PostgreSQL {_server.Version} ({_server.Origin}), data in {_folder.Root}{(WasRunning ? ", already running" : "")}";

    /// <summary>Starts the server, or joins the one already running on the data folder, and waits until it answers.</summary>
    /// <param name="options">Where the data and binaries are.</param>
    /// <param name="say">Receives lines about slow steps.</param>
    /// <param name="ct">Gives up; a server already started is stopped again.</param>
    /// <param name="settings">Extra server settings, which win over the defaults; for tests. No effect on a running server.</param>
    /// <exception cref="DatabaseStartException">With the reason and, where the server said something, the end of its log.</exception>
    public static async Task<EmbeddedServer> StartAsync(EmbeddedDatabaseOptions options,
        Action<string> say, CancellationToken ct, IReadOnlyDictionary<string, string>? settings = null)
    {
        ArgumentNullException.ThrowIfNull(options);
        ArgumentNullException.ThrowIfNull(say);

        var account = await ServerAccount.ChooseAsync(options.RunAs, ct);
        var folder = DataFolder.Choose(options.DataFolder, account);
        var servers = await FindPostgresServer.AllAsync(options.ServerFolder, ct);
        await folder.PrepareAsync(account, ct);
        var server = CreateCluster.Pick(servers, folder);

        using var starting = await folder.LockToStartOrStopAsync(options.StartTimeout, ct);
        var inUse = folder.MarkInUse();
        try
        {
            var password = folder.ReadOrCreatePassword();
            server = await CreateCluster.MakeReadableAsync(server, folder, account, ct);
            var running = await WaitForRunningAsync(folder, password, options.StartTimeout, ct);
            var process = running ?? await LaunchAsync(server, folder, account, password, options.StartTimeout, settings, say, ct);
            await CreateRoleAsync(process, password, ct);
            return new EmbeddedServer(folder, account, server, process, password, running is not null, inUse, say);
        }
        catch
        {
            inUse.Dispose();
            if (!folder.IsInUse()) await StopAsync(server, folder, account, say);
            throw;
        }
    }

    /// <summary>Stops a server that no living process uses any more, such as one left by a killed process.</summary>
    /// <returns>False when the server is in use.</returns>
    public static async Task<bool> StopIfUnusedAsync(EmbeddedDatabaseOptions options, Action<string> say, CancellationToken ct)
    {
        ArgumentNullException.ThrowIfNull(options);
        var account = await ServerAccount.ChooseAsync(options.RunAs, ct);
        var folder = DataFolder.Choose(options.DataFolder, account);
        if (!Directory.Exists(folder.Cluster)) return true;
        var server = CreateCluster.Pick(await FindPostgresServer.AllAsync(options.ServerFolder, ct), folder);
        server = await CreateCluster.MakeReadableAsync(server, folder, account, ct);
        using var stopping = await folder.LockToStartOrStopAsync(options.StartTimeout, ct);
        if (folder.IsInUse()) return false;
        await StopAsync(server, folder, account, say);
        return true;
    }

    /// <summary>Npgsql connection string of the owner to a database of this server. Holds the password: never log it.</summary>
    public string ConnectionString(string database) => Connection(_process, _password, Role, database, pooled: true).ConnectionString;

    /// <summary>Creates the database, owned by <see cref="Role"/>, unless it is there.</summary>
    public async Task CreateDatabaseIfMissingAsync(string name, CancellationToken ct)
    {
        await using var connection = new NpgsqlConnection(
            Connection(_process, _password, Role, "postgres", pooled: false).ConnectionString);
        await connection.OpenAsync(ct);
        await using var find = new NpgsqlCommand("select 1 from pg_database where datname = $1", connection);
        find.Parameters.AddWithValue(name);
        if (await find.ExecuteScalarAsync(ct) is not null) return;
        try
        {
            await using var create = new NpgsqlCommand($"create database {Quote(name)}", connection);
            await create.ExecuteNonQueryAsync(ct);
        }
        catch (PostgresException error) when (error.SqlState is PostgresErrorCodes.DuplicateDatabase or PostgresErrorCodes.UniqueViolation)
        {
            // Made meanwhile by another process sharing the server.
        }
    }

    /// <summary>Leaves the server; the last process to leave stops it and waits until all is on disk.</summary>
    public async ValueTask DisposeAsync()
    {
        if (Interlocked.Exchange(ref _inUse, null) is not { } inUse) return;
        AppDomain.CurrentDomain.ProcessExit -= StopAtProcessExit;
        using var stopping = await _folder.LockToStartOrStopAsync(TimeSpan.FromMinutes(1), CancellationToken.None);
        inUse.Dispose();
        if (!_folder.IsInUse()) await StopAsync(_server, _folder, _account, _say);
    }

    // Backstop for an exit that skips disposal, such as Environment.Exit.
    private void StopAtProcessExit(object? sender, EventArgs e) => DisposeAsync().AsTask().GetAwaiter().GetResult();

    /// <summary>The server already running on this folder, once it answers; null when there is none.</summary>
    private static async Task<PostmasterPid?> WaitForRunningAsync(DataFolder folder, string password, TimeSpan patience,
        CancellationToken ct)
    {
        var clock = Stopwatch.StartNew();
        while (PostmasterPid.Read(folder.Cluster) is { } process)
        {
            if (!process.IsServerOf(folder.Cluster))
            {
                PostmasterPid.ForgetProcess(folder.Cluster);
                return null;
            }
            var failure = await TryConnectAsync(process, password, ct);
            if (failure is null) return process;
            if (failure is PostgresException { SqlState: PostgresErrorCodes.InvalidPassword })
                throw new DatabaseStartException(
                    $"A server is running in '{folder.Cluster}' but refuses the password in '{folder.PasswordFile}'.", failure);
            if (clock.Elapsed > patience)
                throw new DatabaseStartException(
                    $"The server already running in '{folder.Cluster}' (process {process.ProcessId}) does not answer after "
                    + $"{patience.TotalSeconds:0} s: {failure.Message}{Environment.NewLine}{folder.LogTail()}", failure);
            await Task.Delay(100, ct);
        }
        return null;
    }

    private static async Task<PostmasterPid> LaunchAsync(PostgresServer server, DataFolder folder, ServerAccount account, string password,
        TimeSpan patience, IReadOnlyDictionary<string, string>? settings, Action<string> say, CancellationToken ct)
    {
        if (!Directory.Exists(folder.Cluster)) say($"Making a new database cluster in {folder.Cluster}.");
        await CreateCluster.InitialiseAsync(server, folder, account, ct);
        var socket = OperatingSystem.IsWindows() ? null : await folder.EmptySocketFolderAsync(account, ct);
        await CreateCluster.WriteSettingsAsync(folder, socket, settings, ct);

        var logStart = folder.LogLength();
        var clock = Stopwatch.StartNew();
        while (true)
        {
            var attemptStart = folder.LogLength();
            var answer = await account.RunAsync(server.Tool("pg_ctl"),
                ["start", "-D", folder.Cluster, "-l", folder.Log, "-w", "-t", $"{patience.TotalSeconds:0}", "-s"], folder.LogFolder, ct);
            if (answer.ExitCode == 0) break;
            // After a crash a backend may need a moment to notice that its server is gone; until then the server rightly refuses.
            if (clock.Elapsed < patience && folder.LogTail(attemptStart).Contains("shared memory block", StringComparison.Ordinal))
            {
                await Task.Delay(200, ct);
                continue;
            }
            throw new DatabaseStartException(
                $"PostgreSQL {server.Version} did not start in '{folder.Root}' within {patience.TotalSeconds:0} s: "
                + $"{answer.Output.Trim()}{Environment.NewLine}{folder.LogTail(logStart)}");
        }
        return await WaitForRunningAsync(folder, password, patience, ct)
            ?? throw new DatabaseStartException(
                $"PostgreSQL {server.Version} started in '{folder.Root}' and stopped "
                + $"again.{Environment.NewLine}{folder.LogTail(logStart)}");
    }

    private static async Task StopAsync(PostgresServer server, DataFolder folder, ServerAccount account, Action<string> say)
    {
        if (PostmasterPid.Read(folder.Cluster) is not { } process || !process.IsServerOf(folder.Cluster)) return;
        // "Fast": running statements are rolled back, everything committed is written out. SIGINT, or its like on Windows.
        var answer = await account.RunAsync(server.Tool("pg_ctl"), ["stop", "-D", folder.Cluster, "-m", "fast", "-w", "-t", "60", "-s"],
            folder.LogFolder, CancellationToken.None);
        if (answer.ExitCode != 0)
            say($"The database server (process {process.ProcessId}) did not stop: {answer.Output.Trim()} The next start takes it over.");
        else if (process.SocketFolder.Length > 0 && process.SocketFolder != folder.SocketFolder && Directory.Exists(process.SocketFolder))
            Directory.Delete(process.SocketFolder, recursive: true);
    }

    private static async Task<Exception?> TryConnectAsync(PostmasterPid process, string password, CancellationToken ct)
    {
        try
        {
            await using var connection = new NpgsqlConnection(
                Connection(process, password, CreateCluster.Superuser, "postgres", pooled: false).ConnectionString);
            await connection.OpenAsync(ct);
            return null;
        }
        catch (Exception error) when (error is NpgsqlException or TimeoutException or ArgumentException)
        {
            return error;
        }
    }

    private static async Task CreateRoleAsync(PostmasterPid process, string password, CancellationToken ct)
    {
        await using var connection = new NpgsqlConnection(
            Connection(process, password, CreateCluster.Superuser, "postgres", pooled: false).ConnectionString);
        await connection.OpenAsync(ct);
        // The password is hexadecimal, so it needs no quoting. It gives the writer bypassrls, and so must have it.
        await using var find = new NpgsqlCommand("select rolbypassrls from pg_roles where rolname = $1", connection);
        find.Parameters.AddWithValue(Role);
        var make = await find.ExecuteScalarAsync(ct) switch
        {
            true => null,
            false => $"alter role {Role} bypassrls",
            _ => $"create role {Role} login createdb createrole bypassrls password '{password}'",
        };
        if (make is null) return;
        await using var create = new NpgsqlCommand(make, connection);
        await create.ExecuteNonQueryAsync(ct);
    }

    private static NpgsqlConnectionStringBuilder Connection(PostmasterPid process, string password, string user, string database,
        bool pooled) => new()
        {
            Host = process.SocketFolder.Length > 0 ? process.SocketFolder : process.Address,
            Port = process.Port,
            Username = user,
            Password = password,
            Database = database,
            // A pool would keep connections of a server since restarted: none for what is done once per start.
            Pooling = pooled,
        };

    private static string Quote(string identifier) => $"\"{identifier.Replace("\"", "\"\"", StringComparison.Ordinal)}\"";
}
