using System.Text.RegularExpressions;
using Microsoft.Extensions.DependencyInjection;
using Registry.Platform.Jobs;
using Registry.Tests.Architecture;

namespace Registry.Tests.Platform;

/// <summary>Stored jobs name their type and method. Renaming one strands what is queued, so the names are pinned here:
/// change this list only together with a migration of the stored jobs.</summary>
public sealed partial class JobNamesTests(TestDatabase database)
{
    private static readonly string[] Pinned =
    [
        "compute-benchmarks: Registry.Benchmarks.ComputeBenchmarks.RunAsync",
        "compute-site-rates: Registry.SiteQuality.ComputeSiteRates.RunAsync",
        "count-statuses: Registry.Infants.Statuses.KeepStatusesCurrent.CountAsync",
        "digest-trail: Registry.Outreach.MailTrailDigest.RunAsync",
        "find-loss-to-follow-up: Registry.FollowUp.FindLossToFollowUp.RunAsync",
        "fit-chance-of-loss: Registry.FollowUp.Chance.FitChanceOfLoss.RunAsync",
        "fold-counts: Registry.Infants.Counting.KeepCountsCurrent.FoldAsync",
        "mail-flag-digest: Registry.SiteQuality.Flags.MailFlagDigest.RunAsync",
        "mail-site-reports: Registry.SiteQuality.Monthly.MailSiteReports.RunAsync",
        "prune-snapshots: Registry.Infants.Statuses.KeepStatusesCurrent.PruneSnapshotsAsync",
        "purge-refused: Registry.Intake.Receiving.PurgeRefused.RunAsync",
        "queue-reminders: Registry.Outreach.QueueReminders.RunAsync",
        "recompute-all: Registry.Infants.Statuses.KeepStatusesCurrent.RecomputeAllAsync",
        "recount-tests: Registry.Infants.Counting.KeepCountsCurrent.RecountAsync",
        "send-reminders: Registry.Outreach.SendReminders.RunAsync",
        "sweep-calendar: Registry.Infants.Statuses.KeepStatusesCurrent.SweepCalendarAsync",
        "sweep-submissions: Registry.Intake.SweepSubmissions.RunAsJobAsync",
        "tell-of-expiring-keys: Registry.Accounts.TellOfExpiringKeys.RunAsync",
        "tell-of-glasses: Registry.Glasses.TellOfGlasses.RunAsync",
        "watch-operations: Registry.Operations.Alarms.WatchOperations.RunAsync",
    ];

    [Fact]
    public async Task Names_of_recurring_jobs_are_pinned()
    {
        await using var app = await RegistryApp.StartAsync(database);
        var names = app.Services.GetServices<RecurringJob>().Select(j => $"{j.Id}: {j.Job.Type.FullName}.{j.Job.Method.Name}").Order();
        Assert.Equal(Pinned, names);
    }

    [Fact]
    public async Task Job_arguments_are_ids_only()
    {
        await using var app = await RegistryApp.StartAsync(database);
        var parameters = app.Services.GetServices<RecurringJob>().SelectMany(j => j.Job.Method.GetParameters())
            .Concat(typeof(Registry.Intake.Applying.ProcessSubmission)
                .GetMethod("RunAsync", [typeof(Guid), typeof(CancellationToken)])!.GetParameters())
            .Concat(typeof(Registry.Intake.HeldRows.Bulk.DecideInBulk)
                .GetMethod("RunAsync", [typeof(Guid), typeof(CancellationToken)])!.GetParameters())
            .Concat(typeof(Registry.PolicyChanges.CountStatusChanges).GetMethod(
                "RunAsync", [typeof(Guid), typeof(CancellationToken)])!.GetParameters());
        Assert.All(parameters, p => Assert.True(p.ParameterType == typeof(Guid) || p.ParameterType == typeof(CancellationToken), p.Name));
    }

    [Theory]
    [InlineData("Registry.Intake.ProcessSubmission", typeof(Registry.Intake.Applying.ProcessSubmission))]
    [InlineData("Registry.Intake.DecideTogether", typeof(Registry.Intake.HeldRows.Bulk.DecideInBulk))]
    [InlineData("Registry.Intake.HeldRows.Bulk.DecideTogether", typeof(Registry.Intake.HeldRows.Bulk.DecideInBulk))]
    [InlineData("Registry.Infants.KeepStatusesCurrent", typeof(Registry.Infants.Statuses.KeepStatusesCurrent))]
    public async Task Jobs_stored_under_a_former_name_are_found(string former, Type job)
    {
        await using var app = await RegistryApp.StartAsync(database);
        var find = FormerJobName.Resolver(app.Services.GetServices<FormerJobName>());
        Assert.Equal(job, find($"{former}, Registry"));
        Assert.Equal(job, find($"{job.FullName}, Registry"));
    }

    [Fact]
    public void Names_of_enqueued_jobs_are_pinned()
    {
        var enqueued = SourceTree.Files("src/Registry", "*.cs").SelectMany(f => Enqueue().Matches(File.ReadAllText(f)))
            .Select(m => typeof(Program).Assembly.GetTypes().Single(t => t.Name == m.Groups[1].Value).FullName + "." + m.Groups[2].Value);
        Assert.Equal(
            [
                "Registry.Glasses.TellOfGlasses.RunAsync",
                "Registry.Glasses.TellOfGlasses.TriesAsync",
                "Registry.Intake.Applying.ProcessSubmission.RunAsync",
                "Registry.Intake.HeldRows.Bulk.DecideInBulk.RunAsync",
                "Registry.PolicyChanges.CountStatusChanges.RunAsync",
            ], enqueued.Distinct().Order());
    }

    [GeneratedRegex(@"Enqueue<(\w+)>\(\s*\w+ => \w+\.(\w+)\(")]
    private static partial Regex Enqueue();
}
