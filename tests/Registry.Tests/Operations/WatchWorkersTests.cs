using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Time.Testing;
using Registry.Operations;
using Registry.Operations.Alarms;
using Registry.Tests.Intake;
using Registry.Tests.Platform;

namespace Registry.Tests.Operations;

/// <summary>A worker that was killed tells nobody: a process that serves pages does, by mail, once.</summary>
public sealed class WatchWorkersTests(TestDatabase database) : IDisposable
{
    private readonly string _folder = Directory.CreateTempSubdirectory("registry-workers-").FullName;

    [Fact]
    public async Task A_killed_worker_is_told_by_mail_once_and_its_successor_ends_it()
    {
        await using var bed = await IntakeBed.StartAsync(database, new Dictionary<string, string?>
        {
            ["Outreach:Folder"] = _folder,
            ["Operations:AlarmTo:0"] = "night@registry.example",
            ["Operations:AlarmTo:1"] = "",
        });
        var clock = new FakeTimeProvider(DateTimeOffset.UtcNow);
        var jobs = bed.App.Services.GetRequiredService<ListJobs>();
        var watch = ActivatorUtilities.CreateInstance<WatchWorkers>(bed.App.Services, clock);

        using (var worker = await WorkerAsync(bed))
        {
            await Eventually.HoldsAsync(() => jobs.Workers().Any(w => w.IsAlive(DateTimeOffset.UtcNow)));
            clock.SetUtcNow(DateTimeOffset.UtcNow);
            Assert.Equal(0, await watch.LookAsync(IntakeBed.Ct));
            await worker.KillAsync(IntakeBed.Ct);
        }

        // Its last heartbeat grows old; a moment without one is no alarm yet.
        clock.Advance(TimeSpan.FromMinutes(10));
        Assert.Equal(0, await watch.LookAsync(IntakeBed.Ct));
        clock.Advance(TimeSpan.FromMinutes(2));
        Assert.Equal(1, await watch.LookAsync(IntakeBed.Ct));
        clock.Advance(TimeSpan.FromMinutes(1));
        Assert.Equal(0, await watch.LookAsync(IntakeBed.Ct));
        var letter = await File.ReadAllTextAsync(Assert.Single(Directory.GetFiles(_folder, "*.eml")), IntakeBed.Ct);
        Assert.Contains("night@registry.example", letter, StringComparison.Ordinal);
        Assert.Contains("Worker: none runs", letter, StringComparison.Ordinal);

        // What a living worker watches does not end it by not finding it; a living worker does.
        Assert.Equal(1, await bed.CountAsync("alarms where problem = 'no_worker' and ended_at is null"));
        var killed = jobs.Workers().Select(w => w.Name).ToHashSet();
        using var successor = await WorkerAsync(bed);
        await Eventually.HoldsAsync(() => jobs.Workers().Any(w => !killed.Contains(w.Name) && w.IsAlive(DateTimeOffset.UtcNow)));
        var now = ActivatorUtilities.CreateInstance<WatchWorkers>(bed.App.Services, TimeProvider.System);
        Assert.Equal(0, await now.LookAsync(IntakeBed.Ct));
        Assert.Equal(0, await bed.CountAsync("alarms where problem = 'no_worker' and ended_at is null"));
        await successor.KillAsync(IntakeBed.Ct);
    }

    private Task<ProgramProcess> WorkerAsync(IntakeBed bed) => ProgramProcess.StartAsync(_folder, IntakeBed.Ct,
        ("ConnectionStrings__Registry", bed.App.Logins.Writer), ("ConnectionStrings__RegistryReader", bed.App.Logins.Reader),
        ("Role", "worker"), ("Encryption__KeyFile", RegistryApp.Keys), ("Outreach__Folder", Path.Combine(_folder, "of-the-worker")));

    public void Dispose() => Directory.Delete(_folder, recursive: true);
}
