using Microsoft.Extensions.DependencyInjection;
using Registry.Platform.Jobs;

namespace Registry.Tests.Platform;

/// <summary>Stored jobs name their type and method. Renaming one strands what is queued, so the names are pinned here:
/// change this list only together with a migration of the stored jobs.</summary>
public sealed class JobNamesTests(TestDatabase database)
{
    private static readonly string[] Pinned =
    [
        "compute-benchmarks: Registry.Benchmarks.ComputeBenchmarks.RunAsync",
        "compute-site-rates: Registry.SiteQuality.ComputeSiteRates.RunAsync",
        "find-loss-to-follow-up: Registry.FollowUp.FindLossToFollowUp.RunAsync",
        "prune-snapshots: Registry.Infants.KeepStatusesCurrent.PruneSnapshotsAsync",
        "queue-reminders: Registry.Outreach.QueueReminders.RunAsync",
        "recompute-all: Registry.Infants.KeepStatusesCurrent.RecomputeAllAsync",
        "send-reminders: Registry.Outreach.SendReminders.RunAsync",
        "sweep-calendar: Registry.Infants.KeepStatusesCurrent.SweepCalendarAsync",
        "sweep-submissions: Registry.Intake.SweepSubmissions.RunAsJobAsync",
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
            .Concat(typeof(Registry.Intake.ProcessSubmission).GetMethod("RunAsync", [typeof(Guid), typeof(CancellationToken)])!.GetParameters())
            .Concat(typeof(Registry.Intake.DecideTogether).GetMethod("RunAsync", [typeof(Guid), typeof(CancellationToken)])!.GetParameters())
            .Concat(typeof(Registry.PolicyChanges.CountStatusChanges).GetMethod("RunAsync", [typeof(Guid), typeof(CancellationToken)])!.GetParameters());
        Assert.All(parameters, p => Assert.True(p.ParameterType == typeof(Guid) || p.ParameterType == typeof(CancellationToken), p.Name));
    }
}
