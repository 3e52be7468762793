using System.Diagnostics;
using Npgsql;
using Registry.Platform.EmbeddedPostgres;

namespace Registry.Tests.Platform;

/// <summary>The private server's life: start, stop, crash, takeover, sharing. Durability settings are the real ones.</summary>
public sealed class EmbeddedPostgresTests : IDisposable
{
    private readonly string _folder = TemporaryFolder();
    private static CancellationToken Cancel => TestContext.Current.CancellationToken;

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    [Fact]
    public async Task Starts_and_answers_with_the_settings_we_rely_on()
    {
        await using var server = await StartAsync();
        await server.CreateDatabaseIfMissingAsync("registry", Cancel);
        await server.CreateDatabaseIfMissingAsync("registry", Cancel);

        Assert.Equal("on|on|on|UTF8|registry|off", await AskAsync<string>(server,
            "select concat_ws('|', current_setting('fsync'), current_setting('full_page_writes'), current_setting('data_checksums'), "
                + "current_setting('server_encoding'), current_user, current_setting('is_superuser'))"));
        // Upper and lower case beyond ASCII: names are compared by it.
        Assert.Equal("åse núñez", await AskAsync<string>(server, "select lower('ÅSE NÚÑEZ')"));
        if (!OperatingSystem.IsWindows()) Assert.Equal("", await AskAsync<string>(server, "show listen_addresses"));
    }

    [Fact]
    public async Task Data_survives_stop_and_start()
    {
        await using (var first = await StartAsync()) await WriteRowsAsync(first);
        Assert.False(File.Exists(PidFile));

        await using var second = await StartAsync();
        Assert.False(second.WasRunning);
        Assert.Equal(1000L, await AskAsync<long>(second, "select count(*) from kept"));
    }

    [Fact]
    public async Task After_a_kill_of_the_server_the_next_start_recovers_every_committed_row()
    {
        await using var crashed = await StartAsync();
        await WriteRowsAsync(crashed);
        await KillAsync(crashed);

        await using var recovered = await StartAsync();
        Assert.NotEqual(crashed.ProcessId, recovered.ProcessId);
        Assert.Equal(1000L, await AskAsync<long>(recovered, "select count(*) from kept"));
        Assert.Contains("not properly shut down", await File.ReadAllTextAsync(Path.Combine(_folder, "log", "server.log"), Cancel),
            StringComparison.Ordinal);
    }

    [Fact]
    public async Task After_a_kill_the_next_start_waits_for_a_statement_that_still_has_the_data_open()
    {
        await using var crashed = await StartAsync();
        await WriteRowsAsync(crashed);
        var busy = AskAsync<object>(crashed, "do $$ begin while true loop end loop; end $$");
        var backend = await Eventually.ReadsAsync(() => AskAsync<int>(
            crashed, "select coalesce(max(pid), 0) from pg_stat_activity where query like 'do $$%' and state = 'active'"), id => id > 0);
        await KillAsync(crashed);

        var starting = StartAsync();
        if (OperatingSystem.IsLinux())
        {
            var log = Path.Combine(_folder, "log", "server.log");
            await Eventually.HoldsAsync(async () =>
                (await File.ReadAllTextAsync(log, Cancel)).Contains("shared memory block", StringComparison.Ordinal));
            Assert.False(starting.IsCompleted);
        }

        using (var statement = Process.GetProcessById(backend)) statement.Kill();
        await using var recovered = await starting;
        Assert.Equal(1000L, await AskAsync<long>(recovered, "select count(*) from kept"));
        await Task.WhenAny(busy);
        _ = busy.Exception;
    }

    [Fact]
    public async Task A_running_server_is_shared_and_the_last_one_out_stops_it()
    {
        var first = await StartAsync();
        var second = await StartAsync();
        Assert.True(second.WasRunning);
        Assert.Equal(first.ProcessId, second.ProcessId);

        await first.DisposeAsync();
        Assert.Equal(1, await AskAsync<int>(second, "select 1"));
        await second.DisposeAsync();
        Assert.False(File.Exists(PidFile));
    }

    [Fact]
    public async Task A_server_that_nobody_uses_any_more_can_be_stopped()
    {
        var server = await StartAsync();
        Assert.False(await EmbeddedServer.StopIfUnusedAsync(Options, _ => { }, Cancel));
        await server.DisposeAsync();
        Assert.True(await EmbeddedServer.StopIfUnusedAsync(Options, _ => { }, Cancel));
    }

    [Fact]
    public async Task A_stale_process_id_now_used_by_another_program_does_not_prevent_the_start()
    {
        await using (var first = await StartAsync()) await WriteRowsAsync(first);
        // This test's own process stands for whatever got the number after a reboot.
        await File.WriteAllTextAsync(
            PidFile, $"{Environment.ProcessId}\n{_folder}/pgdata\n1700000000\n5432\n{_folder}/socket\n\n  1234567   1234567\nready   \n",
            Cancel);

        await using var second = await StartAsync();
        Assert.Equal(1000L, await AskAsync<long>(second, "select count(*) from kept"));
    }

    [Fact]
    public async Task A_deep_data_folder_gets_its_socket_elsewhere()
    {
        var deep = Path.Combine(_folder, new string('d', 60), new string('e', 60));
        await using (var server = await EmbeddedServer.StartAsync(Options with { DataFolder = deep }, _ => { }, Cancel))
            Assert.Equal(1, await AskAsync<int>(server, "select 1"));
    }

    [Fact]
    public async Task Run_by_root_the_server_is_not_root()
    {
        Assert.SkipUnless(OperatingSystem.IsLinux() && Environment.IsPrivilegedProcess, "needs Linux and root");
        await using var server = await StartAsync();
        var status = await File.ReadAllLinesAsync($"/proc/{server.ProcessId}/status", Cancel);
        var users = status.Single(line => line.StartsWith("Uid:", StringComparison.Ordinal)).Split('\t')[1..];
        Assert.DoesNotContain("0", users);
    }

    [Fact]
    public async Task The_server_has_a_session_of_its_own_so_that_ctrl_c_does_not_reach_it()
    {
        Assert.SkipUnless(OperatingSystem.IsLinux(), "reads /proc");
        await using var server = await StartAsync();
        var afterName = (await File.ReadAllTextAsync($"/proc/{server.ProcessId}/stat", Cancel))
            .Split(')')[^1].Split(' ', StringSplitOptions.RemoveEmptyEntries);
        var own = (await File.ReadAllTextAsync("/proc/self/stat", Cancel)).Split(')')[^1].Split(' ', StringSplitOptions.RemoveEmptyEntries);
        Assert.NotEqual(own[2], afterName[2]);
    }

    [Fact]
    public async Task Data_of_another_major_version_is_refused_untouched()
    {
        await using (var server = await StartAsync()) await WriteRowsAsync(server);
        var version = Path.Combine(_folder, "pgdata", "PG_VERSION");
        var before = await File.ReadAllTextAsync(version, Cancel);
        await File.WriteAllTextAsync(version, "14\n", Cancel);

        var error = await Assert.ThrowsAsync<DatabaseStartException>(StartAsync);
        Assert.Contains("written by PostgreSQL 14", error.Message, StringComparison.Ordinal);
        Assert.Contains("Nothing was changed", error.Message, StringComparison.Ordinal);

        await File.WriteAllTextAsync(version, before, Cancel);
        await using var again = await StartAsync();
        Assert.Equal(1000L, await AskAsync<long>(again, "select count(*) from kept"));
    }

    [Fact]
    public async Task A_setting_the_server_refuses_is_reported_with_the_end_of_its_log()
    {
        var error = await Assert.ThrowsAsync<DatabaseStartException>(() => EmbeddedServer.StartAsync(
            Options, _ => { }, Cancel, new Dictionary<string, string> { ["shared_buffers"] = "nonsense" }));
        Assert.Contains("shared_buffers", error.Message, StringComparison.Ordinal);
    }

    private string PidFile => Path.Combine(_folder, "pgdata", "postmaster.pid");

    private EmbeddedDatabaseOptions Options => new() { DataFolder = _folder, StartTimeout = Eventually.Patience };

    private Task<EmbeddedServer> StartAsync() => EmbeddedServer.StartAsync(Options, _ => { }, Cancel);

    internal static string TemporaryFolder()
    {
        var folder = Directory.CreateTempSubdirectory("registry-embedded-").FullName;
        if (!OperatingSystem.IsWindows() && Environment.IsPrivilegedProcess)
            File.SetUnixFileMode(folder, (UnixFileMode)Convert.ToInt32("711", 8));
        return folder;
    }

    private static async Task KillAsync(EmbeddedServer server)
    {
        using var process = Process.GetProcessById(server.ProcessId);
        process.Kill();
        await process.WaitForExitAsync(Cancel);
    }

    private static async Task WriteRowsAsync(EmbeddedServer server) =>
        await AskAsync<object>(server, "create table kept as select generate_series(1, 1000) as n; select 1");

    private static async Task<T> AskAsync<T>(EmbeddedServer server, string sql)
    {
        await server.CreateDatabaseIfMissingAsync("registry", Cancel);
        await using var connection = new NpgsqlConnection(new NpgsqlConnectionStringBuilder(server.ConnectionString("registry"))
        {
            Pooling = false,
            CommandTimeout = 0,
        }.ConnectionString);
        await connection.OpenAsync(Cancel);
        await using var command = new NpgsqlCommand(sql, connection);
        return (T)(await command.ExecuteScalarAsync(Cancel))!;
    }
}
