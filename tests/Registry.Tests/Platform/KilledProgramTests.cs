using System.Diagnostics;
using Npgsql;
using Registry.Platform.Database;

namespace Registry.Tests.Platform;

/// <summary>The program as a process of its own on its private database: killed at its work, started again, ended by Ctrl-C.</summary>
public sealed class KilledProgramTests : IAsyncDisposable
{
    private readonly string _folder = EmbeddedPostgresTests.TemporaryFolder();
    private static CancellationToken Cancel => TestContext.Current.CancellationToken;

    public async ValueTask DisposeAsync()
    {
        await EmbeddedPostgres.StopIfUnusedAsync(new() { DataFolder = _folder }, _ => { }, CancellationToken.None);
        Directory.Delete(_folder, recursive: true);
    }

    [Fact]
    public async Task After_a_kill_the_next_start_serves_although_the_dead_worker_left_its_locks_and_ctrl_c_stops_all()
    {
        Assert.SkipUnless(OperatingSystem.IsLinux(), "sends signals");
        using (var killed = await StartAsync())
        {
            // What a worker killed while it schedules its jobs leaves behind, for every job there is.
            await using (var server = await EmbeddedPostgres.StartAsync(new() { DataFolder = _folder }, _ => { }, Cancel))
            await using (var connection = new NpgsqlConnection(server.ConnectionString("registry")))
            {
                await connection.OpenAsync(Cancel);
                await using var command = new NpgsqlCommand(
                    """
                    insert into hangfire.lock (resource, acquired) select 'hangfire:lock:recurring-job:' || value, now() at time zone 'utc'
                    from hangfire.set where key = 'recurring-jobs' on conflict do nothing
                    """, connection);
                while (await command.ExecuteNonQueryAsync(Cancel) == 0) await Task.Delay(100, Cancel); // they are registered beside the start
            }

            killed.Process.Kill();
            await killed.Process.WaitForExitAsync(Cancel);
        }

        using var again = await StartAsync();
        using var http = new HttpClient();
        Assert.Equal("Healthy", await http.GetStringAsync($"{again.Address}/health/live", Cancel));

        using (var interrupt = Process.Start("sh", ["-c", $"kill -INT {again.Process.Id}"])) await interrupt.WaitForExitAsync(Cancel);
        await again.Process.WaitForExitAsync(Cancel).WaitAsync(TimeSpan.FromSeconds(60), Cancel);
        Assert.Equal(0, again.Process.ExitCode);
        Assert.False(File.Exists(Path.Combine(_folder, "pgdata", "postmaster.pid")));
    }

    private sealed record Running(Process Process, string Address) : IDisposable
    {
        public void Dispose()
        {
            if (!Process.HasExited) Process.Kill();
            Process.Dispose();
        }
    }

    private async Task<Running> StartAsync()
    {
        // A shell's background job may ignore Ctrl-C, and so would its children.
        var start = new ProcessStartInfo("env") { RedirectStandardOutput = true, RedirectStandardError = true };
        start.ArgumentList.Add("--default-signal=INT");
        start.ArgumentList.Add("dotnet");
        start.ArgumentList.Add(typeof(Program).Assembly.Location);
        start.Environment["Database__Embedded__DataFolder"] = _folder;
        start.Environment["Demo__Enabled"] = "false";
        start.Environment["Urls"] = "http://127.0.0.1:0";
        start.Environment["ConnectionStrings__Registry"] = "";
        start.Environment["DOTNET_ENVIRONMENT"] = "Development";
        var process = Process.Start(start)!;
        var said = new List<string>();
        process.ErrorDataReceived += (_, line) => { lock (said) said.Add(line.Data ?? ""); };
        process.BeginErrorReadLine();
        using var patience = CancellationTokenSource.CreateLinkedTokenSource(Cancel);
        patience.CancelAfter(TimeSpan.FromMinutes(2));
        string? address = null;
        while (await process.StandardOutput.ReadLineAsync(patience.Token) is { } line)
        {
            lock (said) said.Add(line);
            if (line.StartsWith("Open ", StringComparison.Ordinal)) address = line[5..];
            if (!line.StartsWith("Ctrl-C stops", StringComparison.Ordinal)) continue;
            _ = process.StandardOutput.ReadToEndAsync(CancellationToken.None); // so that it never waits for a reader
            return new Running(process, address!);
        }

        lock (said) throw new InvalidOperationException($"The program ended before it served: {string.Join(Environment.NewLine, said)}");
    }
}
