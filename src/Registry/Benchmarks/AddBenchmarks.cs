using Registry.Platform.Jobs;

namespace Registry.Benchmarks;

public static class BenchmarksSetup
{
    public static IServiceCollection AddBenchmarks(this IServiceCollection services)
    {
        services.AddSingleton<CountMilestones>();
        services.AddScoped<ReadOverview>();
        services.AddSingleton<ComputeBenchmarks>();
        services.AddSingleton(RecurringJob.Of<ComputeBenchmarks>(
            "compute-benchmarks", "1-3-6 of each birth month, written down", "35 0 * * *", j => j.RunAsync(CancellationToken.None)));
        return services;
    }
}
