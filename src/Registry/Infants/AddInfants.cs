using Registry.Infants.Counting;
using Registry.Infants.Find;
using Registry.Infants.List;
using Registry.Infants.Record;
using Registry.Infants.Statuses;
using Registry.Platform.Jobs;

namespace Registry.Infants;

public static class InfantsSetup
{
    public static IServiceCollection AddInfants(this IServiceCollection services)
    {
        services.AddOptions<InfantsOptions>().BindConfiguration("Infants").ValidateDataAnnotations().ValidateOnStart();
        services.AddSingleton<LimitSnapshots>();
        services.AddSingleton<KeepSnapshots>();
        services.AddSingleton<StatusSource>();
        services.AddSingleton<ListInfants>();
        services.AddScoped<ShowInfants>();
        services.AddScoped<KeepViews>();
        services.AddSingleton<FindInfants>();
        services.AddSingleton<LimitSearches>();
        services.AddScoped<OpenRecord>();
        services.AddScoped<WriteForInfant>();
        services.AddScoped<OfferOpenings>();
        services.AddScoped<Appointing>();
        services.AddScoped<RecordContact>();
        services.AddScoped<PutOffInfant>();
        services.AddScoped<AssignInfants>();
        services.AddSingleton<KeepStatusesCurrent>();
        services.AddSingleton(RecurringJob.Of<KeepStatusesCurrent>(
            "sweep-calendar", "Statuses the calendar changed", "5 0 * * *", j =>
                j.SweepCalendarAsync(CancellationToken.None), atStart: true));
        services.AddSingleton(RecurringJob.Of<KeepStatusesCurrent>(
            "recompute-all", "All statuses, from the facts", "0 3 1 * *", j => j.RecomputeAllAsync(CancellationToken.None)));
        services.AddSingleton(RecurringJob.Of<KeepStatusesCurrent>(
            "prune-snapshots", "Unused as-of snapshots", "30 3 * * *", j => j.PruneSnapshotsAsync(CancellationToken.None)));
        services.AddSingleton(RecurringJob.Of<KeepStatusesCurrent>(
            "count-statuses", "Counts of statuses that changed", "* * * * *", j => j.CountAsync(CancellationToken.None), atStart: true));
        services.AddSingleton<ReadStatusCounts>();
        services.AddSingleton<KeepCountsCurrent>();
        services.AddSingleton(RecurringJob.Of<KeepCountsCurrent>(
            "recount-tests", "All counts of tests, from the facts", "0 4 1 * *", j => j.RecountAsync(CancellationToken.None)));
        services.AddSingleton(RecurringJob.Of<KeepCountsCurrent>(
            "fold-counts", "Changes added to the counts of tests", "* * * * *", j => j.FoldAsync(CancellationToken.None),
            atStart: true));
        services.AddSingleton(new FormerJobName("Registry.Infants.KeepStatusesCurrent", typeof(KeepStatusesCurrent)));
        return services;
    }
}
