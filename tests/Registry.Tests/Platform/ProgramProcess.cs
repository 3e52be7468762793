using System.Diagnostics;
using System.Net;
using System.Net.Sockets;
using System.Security.Cryptography;
using System.Text;
using Npgsql;
using Registry.Platform.EmbeddedPostgres;

namespace Registry.Tests.Platform;

/// <summary>The program as a process of its own on its private database in a folder of its own, so that it can be killed.</summary>
internal sealed class ProgramProcess : IDisposable
{
    private ProgramProcess(Process process, string address, IReadOnlyList<string> said) =>
        (Process, Address, Said) = (process, address, said);

    public Process Process { get; }

    /// <summary>What it printed until it served.</summary>
    public IReadOnlyList<string> Said { get; }
    public string Address { get; }

    /// <summary>Starts it without the demonstration, and waits until it serves.</summary>
    public static async Task<ProgramProcess> StartAsync(string folder, CancellationToken ct,
        params (string Name, string Value)[] environment)
    {
        // A shell's background job may ignore Ctrl-C, and so would its children.
        var start = new ProcessStartInfo("env") { RedirectStandardOutput = true, RedirectStandardError = true };
        start.ArgumentList.Add("--default-signal=INT");
        start.ArgumentList.Add("dotnet");
        start.ArgumentList.Add(typeof(Program).Assembly.Location);
        start.Environment["Database__Embedded__DataFolder"] = folder;
        start.Environment["Database__Embedded__StartTimeout"] = Eventually.Patience.ToString();
        start.Environment["Demo__Enabled"] = "false";
        start.Environment["Urls"] = "http://127.0.0.1:0";
        start.Environment["ConnectionStrings__Registry"] = "";
        start.Environment["DOTNET_ENVIRONMENT"] = "Development";
        start.Environment["DOTNET_TieredPGO"] = "0"; // it lives for seconds
        foreach (var (name, value) in environment) start.Environment[name] = value;
        var process = Process.Start(start)!;
        var said = new List<string>();
        process.ErrorDataReceived += (_, line) => { lock (said) said.Add(line.Data ?? ""); };
        process.BeginErrorReadLine();
        using var patience = CancellationTokenSource.CreateLinkedTokenSource(ct);
        patience.CancelAfter(Eventually.Patience);
        string? address = null;
        while (await process.StandardOutput.ReadLineAsync(patience.Token) is { } line)
        {
            lock (said) said.Add(line);
            if (line.StartsWith("Open ", StringComparison.Ordinal)) address = line[5..];
            if (!line.StartsWith("Ctrl-C stops", StringComparison.Ordinal)) continue;
            _ = process.StandardOutput.ReadToEndAsync(CancellationToken.None); // so that it never waits for a reader
            lock (said) return new(process, address!, [.. said]);
        }

        lock (said) throw new InvalidOperationException($"The program ended before it served: {string.Join(Environment.NewLine, said)}");
    }

    /// <summary>A client with a site's key.</summary>
    public HttpClient Client(string key)
    {
        var http = new HttpClient { BaseAddress = new(Address), Timeout = Eventually.Patience };
        http.DefaultRequestHeaders.Authorization = new("Bearer", key);
        return http;
    }

    /// <summary>SIGKILL: it has no chance to do anything.</summary>
    public async Task KillAsync(CancellationToken ct)
    {
        Process.Kill();
        await Process.WaitForExitAsync(ct);
    }

    /// <summary>SIGKILL to its PostgreSQL server.</summary>
    public static async Task KillPostgresAsync(string folder, CancellationToken ct)
    {
        var id = int.Parse((await File.ReadAllLinesAsync(Path.Combine(folder, "pgdata", "postmaster.pid"), ct))[0],
            System.Globalization.CultureInfo.InvariantCulture);
        using var postgres = Process.GetProcessById(id);
        postgres.Kill();
        await postgres.WaitForExitAsync(ct);
    }

    /// <summary>SIGKILL to one of its connections: PostgreSQL ends all others, and recovers from its log. Comes back when it takes
    /// connections again.</summary>
    public static async Task CrashPostgresAsync(string folder, CancellationToken ct)
    {
        var starts = await StartsAsync();
        await Eventually.HoldsAsync(async () =>
        {
            try
            {
                // Number 0 would be this process and all beside it.
                if (await AskAsync<int>(folder, Connection, ct) is not (> 0 and var id)) return false;
                using var backend = Process.GetProcessById(id);
                // One that is about to end by itself crashes nothing, and would be waited for in vain: it is stopped first.
                await SignalAsync("STOP", id, ct);
                if (!await IsStoppedAsync(id, ct)) return false;
                backend.Kill();
                await backend.WaitForExitAsync(ct);
                return true;
            }
            catch (Exception e) when (e is ArgumentException or InvalidOperationException or NpgsqlException or IOException)
            {
                return false; // It ended by itself: another one.
            }
        });
        await Eventually.HoldsAsync(async () => await StartsAsync() > starts);

        async Task<int> StartsAsync()
        {
            // The server writes to it meanwhile.
            await using var log = new FileStream(Path.Combine(folder, "log", "server.log"), FileMode.Open, FileAccess.Read,
                FileShare.ReadWrite | FileShare.Delete);
            using var reader = new StreamReader(log);
            return (await reader.ReadToEndAsync(ct)).Split("ready to accept connections").Length;
        }
    }

    private const string Connection =
        """
        select pid from pg_stat_activity where usename is not null and datname = current_database()
        and pid <> pg_backend_pid() order by random() limit 1
        """;

    /// <summary>Sends a signal, for those .NET has no call for.</summary>
    public static async Task SignalAsync(string signal, int id, CancellationToken ct)
    {
        using var kill = Process.Start("sh", ["-c", $"kill -{signal} {id} 2>/dev/null"]);
        await kill.WaitForExitAsync(ct);
    }

    /// <returns>False when it ended before the signal reached it.</returns>
    private static async Task<bool> IsStoppedAsync(int id, CancellationToken ct)
    {
        while (true)
        {
            var state = (await File.ReadAllTextAsync($"/proc/{id}/stat", ct)).Split(')')[^1].TrimStart()[0];
            if (state is 'T' or 'Z' or 'X') return state == 'T';
            await Task.Delay(1, ct);
        }
    }

    private static int _lastPort = 21_000 + (Environment.ProcessId % 500 * 20);

    /// <summary>A port below those a system gives to outgoing connections, and no other test of this run's: it stays free until the program
    /// takes it, and while it is down.</summary>
    public static int FreePort()
    {
        while (true)
        {
            var port = Interlocked.Increment(ref _lastPort);
            try
            {
                using var listener = new TcpListener(IPAddress.Loopback, port);
                listener.Start();
                return port;
            }
            catch (SocketException)
            {
                // Somebody listens there.
            }
        }
    }

    /// <summary>Gives it a site, Harbour Hospital.</summary>
    /// <returns>The site's key.</returns>
    public static async Task<string> AddSiteAsync(string folder, CancellationToken ct)
    {
        const string secret = "reg_for-tests-of-the-program-as-a-process";
        await AskAsync<int>(
            folder,
            """
            with s as (
              insert into sites (id, code, name, county, kind, has_nicu, active)
              values (gen_random_uuid(), 'harbour', 'Harbour Hospital', 'Lind', 'hospital', false, true) returning id)
            insert into site_keys (id, site_id, name, prefix, sha256, created_at)
            select gen_random_uuid(), id, 'test', left($1, 12), $2, now() from s
            """, ct, secret, SHA256.HashData(Encoding.UTF8.GetBytes(secret)));
        return secret;
    }

    /// <summary>Runs a statement on its database.</summary>
    /// <returns>The first value of the first row; default when there is none.</returns>
    public static async Task<T?> AskAsync<T>(string folder, string sql, CancellationToken ct, params object[] parameters)
    {
        await using var server = await EmbeddedServer.StartAsync(
            new() { DataFolder = folder, StartTimeout = Eventually.Patience }, _ => { }, ct);
        await using var connection = new NpgsqlConnection(new NpgsqlConnectionStringBuilder(server.ConnectionString("registry"))
        {
            Pooling = false,
            Timeout = 300,
            CommandTimeout = 300,
        }.ConnectionString);
        await connection.OpenAsync(ct);
        await using var command = new NpgsqlCommand(sql, connection);
        foreach (var parameter in parameters) command.Parameters.AddWithValue(parameter);
        return await command.ExecuteScalarAsync(ct) is T value ? value : default;
    }

    public void Dispose()
    {
        if (!Process.HasExited) Process.Kill();
        Process.Dispose();
    }
}
