using System.Net;
using System.Net.Sockets;

namespace Registry.Platform.EmbeddedPostgres;

/// <summary>Prepares what the server starts from: readable binaries, a cluster made by <c>initdb</c>, its settings.</summary>
internal static class CreateCluster
{
    /// <summary>Bootstrap superuser; used here only to make the role the service connects as.</summary>
    internal const string Superuser = "postgres";

    /// <summary>
    /// Picks the server: one of the cluster's major version if data exists, else the best found.
    /// </summary>
    internal static PostgresServer Pick(IReadOnlyList<PostgresServer> found, DataFolder folder)
    {
        var file = Path.Combine(folder.Cluster, "PG_VERSION");
        if (!File.Exists(file)) return found[0];
        var major = File.ReadAllText(file).Trim();
        return found.FirstOrDefault(server => server.Version.Major.ToString(System.Globalization.CultureInfo.InvariantCulture) == major)
            ?? throw new DatabaseStartException(
                $"The data in '{folder.Cluster}' was written by PostgreSQL {major}, but the servers found here are "
                + string.Join(", ", found.Select(server => $"{server.Version} ({server.BinFolder})"))
                + $". Nothing was changed. Either set Database:Embedded:ServerFolder to an installed PostgreSQL {major}; or dump the data "
                    + "with that version's pg_dump and restore it into a new data folder; or set Database:Embedded:DataFolder to an empty "
                    + "folder to begin anew.");
    }

    /// <summary>
    /// Binaries the server's user may execute: the found ones, or a copy in the data folder when they lie where that user
    /// cannot read, such as under root's home.
    /// </summary>
    internal static async Task<PostgresServer> MakeReadableAsync(PostgresServer server, DataFolder folder, ServerAccount account,
        CancellationToken ct)
    {
        if (!account.Drops || (await account.RunAsync(server.Tool("postgres"), ["--version"], "/", ct)).ExitCode == 0) return server;

        var copy = Path.Combine(folder.Root, $"server-{server.Version}");
        if (!Directory.Exists(copy))
        {
            var unfinished = copy + ".new";
            if (Directory.Exists(unfinished)) Directory.Delete(unfinished, recursive: true);
            CopyTree(new DirectoryInfo(Path.GetDirectoryName(server.BinFolder)!), unfinished);
            Directory.Move(unfinished, copy);
        }
        return server with { BinFolder = Path.Combine(copy, "bin") };
    }

    /// <summary>
    /// Makes the cluster if there is none: UTF-8, C ordering with Unicode upper and lower case, checksums, passwords always.
    /// It appears under its name only when whole.
    /// </summary>
    internal static async Task InitialiseAsync(PostgresServer server, DataFolder folder, ServerAccount account, CancellationToken ct)
    {
        if (Directory.Exists(folder.Cluster)) return;
        if (Directory.Exists(folder.NewCluster)) Directory.Delete(folder.NewCluster, recursive: true);
        Directory.CreateDirectory(folder.NewCluster);
        await account.OwnAsync(folder.NewCluster, ct);
        await account.OwnAsync(folder.PasswordFile, ct);

        string[] locale = server.Version.Major >= 17
            ? ["--locale=C", "--locale-provider=builtin", "--builtin-locale=C.UTF-8"]
            : OperatingSystem.IsLinux() ? ["--locale=C.UTF-8", "--lc-messages=C"] : ["--locale=C"];
        var answer = await account.RunAsync(server.Tool("initdb"),
            ["--pgdata", folder.NewCluster, "--encoding=UTF8", .. locale, "--data-checksums", "--auth=scram-sha-256",
                "--username", Superuser, "--pwfile", folder.PasswordFile], folder.LogFolder, ct);
        if (answer.ExitCode != 0)
            throw new DatabaseStartException(
                $"The database cluster could not be made in '{folder.Root}' with {server.Tool("initdb")}: {answer.Output.Trim()}");
        await File.AppendAllTextAsync(Path.Combine(folder.NewCluster, "postgresql.conf"),
            "\n# Written by the service at every start; ALTER SYSTEM still overrides it.\ninclude '../server.conf'\n", ct);
        Directory.Move(folder.NewCluster, folder.Cluster);
    }

    /// <summary>Settings fit for one machine that also runs the service. Durability is never given up here.</summary>
    /// <param name="folder">Gets <c>server.conf</c>.</param>
    /// <param name="socketFolder">Null: listen on loopback, on a free port.</param>
    /// <param name="overrides">Extra settings, last so that they win; for tests.</param>
    /// <param name="ct">Stops the write.</param>
    internal static async Task WriteSettingsAsync(DataFolder folder, string? socketFolder, IReadOnlyDictionary<string, string>? overrides,
        CancellationToken ct)
    {
        var settings = new Dictionary<string, string>
        {
            ["listen_addresses"] = socketFolder is null ? "127.0.0.1" : "",
            ["port"] = socketFolder is null ? FreePort().ToString(System.Globalization.CultureInfo.InvariantCulture) : "5432",
            ["unix_socket_directories"] = socketFolder ?? "",
            ["unix_socket_permissions"] = "0700",
            ["fsync"] = "on",
            ["full_page_writes"] = "on",
            ["synchronous_commit"] = "on",
            ["max_connections"] = "300",
            ["shared_buffers"] = "256MB",
            ["max_wal_size"] = "2GB",
            ["jit"] = "off",
            ["TimeZone"] = "UTC",
            ["log_timezone"] = "UTC",
            // Messages of failed statements quote values, which may be a person's. The service reports those errors
            // itself, without the values; the server's log keeps its own life: starts, recovery, checkpoints, fatal errors.
            ["log_min_messages"] = "log",
            ["log_min_error_statement"] = "panic",
        };
        foreach (var (name, value) in overrides ?? new Dictionary<string, string>()) settings[name] = value;
        await File.WriteAllLinesAsync(folder.SettingsFile, settings.Select(setting => $"{setting.Key} = '{Escaped(setting.Value)}'"), ct);
    }

    private static string Escaped(string value) =>
        value.Replace("\\", "\\\\", StringComparison.Ordinal).Replace("'", "''", StringComparison.Ordinal);

    private static int FreePort()
    {
        using var listener = new TcpListener(IPAddress.Loopback, 0);
        listener.Start();
        return ((IPEndPoint)listener.LocalEndpoint).Port;
    }

    private static void CopyTree(DirectoryInfo from, string to)
    {
        Directory.CreateDirectory(to);
        foreach (var entry in from.EnumerateFileSystemInfos())
        {
            var target = Path.Combine(to, entry.Name);
            if (entry.LinkTarget is { } link) File.CreateSymbolicLink(target, link);
            else if (entry is DirectoryInfo folder) CopyTree(folder, target);
            else ((FileInfo)entry).CopyTo(target);
        }
    }
}
