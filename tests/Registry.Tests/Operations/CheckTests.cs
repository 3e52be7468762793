using System.Net;
using Microsoft.Extensions.DependencyInjection;
using Registry.Operations.Alarms;
using Registry.Operations.Checks;
using Registry.Records;
using Registry.Tests.Intake;
using Registry.Tests.Platform;

namespace Registry.Tests.Operations;

/// <summary>What whoever runs the registry is told: by <c>check</c>, on the operations page, by mail and by metrics.</summary>
public sealed class CheckTests(TestDatabase database) : IDisposable
{
    private readonly string _folder = Directory.CreateTempSubdirectory("registry-check-").FullName;

    [Fact]
    public async Task Each_thing_that_is_wrong_is_a_line_that_says_what_to_do()
    {
        await using var bed = await IntakeBed.StartAsync(database, new Dictionary<string, string?>
        {
            ["Outreach:Smtp:Host"] = "127.0.0.1",
            ["Outreach:Smtp:Port"] = "1",
            ["Operations:DiskFreeMebibytes"] = "1000000000",
        });
        var lines = await CheckAsync(bed);
        Assert.Equal(CheckState.Sound, State("Configuration"));
        Assert.Equal(CheckState.Sound, State("Schema"));
        Assert.Equal(CheckState.Sound, State("Clock"));
        Assert.Equal(CheckState.Sound, State("Field keys"));
        Assert.Equal(CheckState.Broken, State("Mail"));
        Assert.Equal(CheckState.Broken, State("Disk"));
        Assert.Equal(CheckState.Broken, State("Worker"));
        Assert.Equal(CheckState.Attention, State("Backup"));
        Assert.All(lines.Where(l => l.State != CheckState.Sound), l => Assert.False(string.IsNullOrEmpty(l.Do)));
        // Nothing secret is said.
        Assert.DoesNotContain(lines, l => l.ToString().Contains("Password", StringComparison.OrdinalIgnoreCase));

        // The page says the same.
        var client = await SignedIn.AsAsync(bed, Role.Administrator, null);
        var page = await client.GetStringAsync("/operations", IntakeBed.Ct);
        Assert.Contains("Run the backup verb", page, StringComparison.Ordinal);
        Assert.Contains("Last succeeded", page, StringComparison.Ordinal);
        Assert.Contains("No backup was ever taken", page, StringComparison.Ordinal);

        CheckState State(string subject) => lines.Single(l => l.Subject == subject).State;
    }

    [Fact]
    public async Task A_problem_is_told_by_mail_once_until_it_is_gone_and_comes_back_and_names_nobody()
    {
        await using var bed = await IntakeBed.StartAsync(database, new Dictionary<string, string?>
        {
            ["Outreach:Folder"] = _folder,
            ["Operations:AlarmTo:0"] = "night@registry.example",
            ["Operations:DiskFreeMebibytes"] = "1",
            ["Operations:QueueMinutes"] = "15",
            ["Operations:WorkerMinutes"] = "1440", // told by another: WatchWorkersTests
        });
        await bed.ListAsync("insert into backups (id, taken_at, finished_at, tables, rows, bytes) values (gen_random_uuid(), now(), now(), 1, 1, 1)");
        Assert.Equal("0 problems, 0 told by mail", await WatchAsync(bed));
        Assert.Empty(Letters());

        // A submission nobody works through, and a job that fails.
        await bed.ReceiveAsync("kind,record_number,birth_date,sex,mother_family_name\nbirth,77,2026-11-01,female,Quillfeather\n",
            at: DateTimeOffset.UtcNow.AddMinutes(-20));
        await bed.ListAsync("insert into job_runs (id, job, background_job_id, started_at, finished_at, outcome, error) "
            + "values (gen_random_uuid(), 'sweep-calendar', '1', now(), now(), 'failed', 'TimeoutException')");
        Assert.Equal("2 problems, 2 told by mail", await WatchAsync(bed));
        Assert.Equal("2 problems, 0 told by mail", await WatchAsync(bed));
        var letter = await File.ReadAllTextAsync(Assert.Single(Letters()), IntakeBed.Ct);
        Assert.Contains("night@registry.example", letter, StringComparison.Ordinal);
        Assert.Contains("Registry: 2 problems", letter, StringComparison.Ordinal);
        Assert.Contains("sweep-calendar failed", letter, StringComparison.Ordinal);
        Assert.DoesNotContain("Quillfeather", letter, StringComparison.Ordinal);
        Assert.DoesNotContain("harbour", letter, StringComparison.OrdinalIgnoreCase);

        // Gone, and come back: told again.
        await bed.ListAsync("update submissions set state = 'done'");
        Assert.Equal("1 problem, 0 told by mail", await WatchAsync(bed));
        await bed.ListAsync("update submissions set state = 'received'");
        Assert.Equal("2 problems, 1 told by mail", await WatchAsync(bed));
        Assert.Equal(2, Letters().Length);
        Assert.Equal(3, await bed.CountAsync("alarms where mailed_at is not null"));
    }

    [Fact]
    public async Task Metrics_are_answered_at_their_own_address_only_and_hold_no_id()
    {
        // The private server's user must reach it.
        if (!OperatingSystem.IsWindows()) File.SetUnixFileMode(_folder, (UnixFileMode)Convert.ToInt32("711", 8));
        var port = ProgramProcess.FreePort();
        using var program = await ProgramProcess.StartAsync(_folder, IntakeBed.Ct, ("Operations__MetricsUrl", $"http://127.0.0.1:{port}"));
        try
        {
            using var client = new HttpClient { Timeout = Eventually.Patience };
            var id = Guid.NewGuid();
            using (await client.GetAsync($"{program.Address}/infants/{id}", IntakeBed.Ct))
            using (await client.GetAsync($"{program.Address}/health/live", IntakeBed.Ct))
            {
            }

            var metrics = await client.GetStringAsync($"http://127.0.0.1:{port}/metrics", IntakeBed.Ct);
            Assert.Contains("http_server_request_duration_seconds", metrics, StringComparison.Ordinal);
            Assert.DoesNotContain(id.ToString(), metrics, StringComparison.Ordinal);
            // Elsewhere it is a page like any other that does not exist: a stranger is asked to sign in.
            var elsewhere = await client.GetStringAsync($"{program.Address}/metrics", IntakeBed.Ct);
            Assert.DoesNotContain("http_server_request_duration", elsewhere, StringComparison.Ordinal);
            using var page = await client.GetAsync($"http://127.0.0.1:{port}/sign-in", IntakeBed.Ct);
            Assert.Equal(HttpStatusCode.NotFound, page.StatusCode);
        }
        finally
        {
            await program.KillAsync(IntakeBed.Ct);
            await ProgramProcess.KillPostgresAsync(_folder, IntakeBed.Ct);
        }
    }

    private string[] Letters() => Directory.GetFiles(_folder, "*.eml");

    private static Task<IReadOnlyList<CheckLine>> CheckAsync(IntakeBed bed) =>
        bed.App.Services.GetRequiredService<CheckInstallation>().RunAsync(reachOthers: true, IntakeBed.Ct);

    private static Task<string> WatchAsync(IntakeBed bed) => bed.App.Services.GetRequiredService<WatchOperations>().RunAsync(IntakeBed.Ct);

    public void Dispose() => Directory.Delete(_folder, recursive: true);
}
