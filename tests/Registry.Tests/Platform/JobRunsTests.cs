using System.Net;
using System.Net.Http.Json;
using System.Text.Json;
using Microsoft.AspNetCore.Mvc.Testing;
using Microsoft.Extensions.DependencyInjection;
using Registry.Operations;
using Registry.Platform.Jobs;

namespace Registry.Tests.Platform;

/// <summary>Jobs run in a worker, are recorded, and readiness says whether anybody runs them.</summary>
public sealed class JobRunsTests(TestDatabase database)
{
    private static CancellationToken Ct => TestContext.Current.CancellationToken;

    [Fact]
    public async Task A_worker_runs_the_jobs_of_the_start_and_records_them()
    {
        await using var app = await RegistryApp.ListenAsync(database, settings: new Dictionary<string, string?> { ["Role"] = "worker" });
        using var client = app.CreateClient();
        var jobs = app.Services.GetRequiredService<ListJobs>();
        var atStart = app.Services.GetServices<RecurringJob>().Where(j => j.AtStart).Select(j => j.Id).ToList();
        var lines = await Eventually.ReadsAsync(() => jobs.AllAsync(Ct), l =>
            atStart.All(id => l.Single(j => j.Job.Id == id).Last?.Outcome == JobOutcome.Succeeded) && l.All(j => j.NextAt is not null));
        Assert.Equal("0 infants recomputed", lines.Single(l => l.Job.Id == "sweep-calendar").Last!.Said);
        Assert.Contains(jobs.Workers(), w => w.IsAlive(TimeProvider.System.GetUtcNow()));

        var ready = await client.GetFromJsonAsync<JsonElement>("/health/ready", Ct);
        Assert.Equal("Healthy", ready.GetProperty("status").GetString());
    }

    [Fact]
    public async Task A_failed_run_keeps_the_kind_of_error_and_not_its_message()
    {
        await using var app = await RegistryApp.StartAsync(database, settings: new Dictionary<string, string?> { ["Role"] = "worker" });
        _ = app.Server;
        await app.AsOwnerAsync("alter table loss_findings rename to elsewhere");
        app.Services.GetRequiredService<RunRecurringJob>().Start("find-loss-to-follow-up");
        var jobs = app.Services.GetRequiredService<ListJobs>();
        var failures = await Eventually.ReadsAsync(() => jobs.FailuresAsync(Ct), f => f.Count > 0);
        Assert.Equal("PostgresException 42P01 in FindLossToFollowUp", failures[0].Error);

        // Nor does the job library keep the text of the error: its state, the reason of a retry, what it counts.
        await Eventually.HoldsAsync(async () => await KeptAsync("PostgresException 42P01") is not null);
        foreach (var text in (string[])["loss_findings", "does not exist"])
            if (await KeptAsync(text) is { } kept) Assert.Fail(kept);

        async Task<string?> KeptAsync(string text)
        {
            await using var state = app.Source.CreateCommand(
                "select s::text from hangfire.state s where s::text like '%' || $1 || '%' limit 1");
            state.Parameters.AddWithValue(text);
            return (string?)await state.ExecuteScalarAsync(Ct);
        }
    }

    [Fact]
    public async Task A_web_node_without_a_worker_is_ready_and_says_that_jobs_wait()
    {
        await using var app = await RegistryApp.ListenAsync(database);
        using var client = app.CreateClient();
        Assert.Equal(HttpStatusCode.OK, (await client.GetAsync("/health/live", Ct)).StatusCode);
        var answer = await client.GetAsync("/health/ready", Ct);
        Assert.Equal(HttpStatusCode.OK, answer.StatusCode);
        var report = await answer.Content.ReadFromJsonAsync<JsonElement>(Ct);
        Assert.Equal("Degraded", report.GetProperty("status").GetString());
        Assert.Equal("Degraded", report.GetProperty("checks").GetProperty("worker").GetProperty("status").GetString());
    }

    [Fact]
    public async Task A_database_without_the_schema_is_not_ready()
    {
        await using var app = await RegistryApp.ListenAsync(database);
        using var client = app.CreateClient();
        await app.AsOwnerAsync("delete from \"__EFMigrationsHistory\"");
        var answer = await client.GetAsync("/health/ready", Ct);
        Assert.Equal(HttpStatusCode.ServiceUnavailable, answer.StatusCode);
        Assert.Contains("run the migrate verb", await answer.Content.ReadAsStringAsync(Ct), StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("/jobs")]
    [InlineData("/operations")]
    [InlineData("/outreach")]
    public async Task Background_pages_are_closed_to_strangers(string path)
    {
        await using var app = await RegistryApp.StartAsync(database);
        using var client = app.CreateClient(new WebApplicationFactoryClientOptions { AllowAutoRedirect = false });
        Assert.Equal(HttpStatusCode.Redirect, (await client.GetAsync(path, Ct)).StatusCode);
    }
}
