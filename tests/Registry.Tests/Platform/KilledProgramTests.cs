namespace Registry.Tests.Platform;

/// <summary>The program as a process of its own on its private database: killed at its work, started again, ended by Ctrl-C.</summary>
public sealed class KilledProgramTests : IAsyncDisposable
{
    private readonly ProgramFolder _folder = new();
    private static CancellationToken Cancel => TestContext.Current.CancellationToken;

    public ValueTask DisposeAsync() => _folder.DisposeAsync();

    [Fact]
    public async Task After_a_kill_the_next_start_serves_although_the_dead_worker_left_its_locks_and_ctrl_c_stops_all()
    {
        Assert.SkipUnless(OperatingSystem.IsLinux(), "sends signals");
        using (var killed = await ProgramProcess.StartAsync(_folder, Cancel))
        {
            // What a worker killed while it schedules its jobs leaves behind, for every job there is.
            // They are registered beside the start.
            await Eventually.HoldsAsync(async () => await ProgramProcess.AskAsync<string>(
                _folder,
                """
                insert into hangfire.lock (resource, acquired) select 'hangfire:lock:recurring-job:' || value, now() at time zone 'utc'
                from hangfire.set where key = 'recurring-jobs' on conflict do nothing returning resource
                """, Cancel) is not null);
            await killed.KillAsync(Cancel);
        }

        using var again = await ProgramProcess.StartAsync(_folder, Cancel);
        using var http = new HttpClient();
        Assert.Equal("Healthy", await http.GetStringAsync($"{again.Address}/health/live", Cancel));

        await ProgramProcess.SignalAsync("INT", again.Process.Id, Cancel);
        await again.Process.WaitForExitAsync(Cancel).WaitAsync(Eventually.Patience, Cancel);
        Assert.Equal(0, again.Process.ExitCode);
        Assert.False(File.Exists(Path.Combine(_folder, "pgdata", "postmaster.pid")));
    }
}
