namespace Registry.Benchmarks;

public static class BenchmarksSetup
{
    public static IServiceCollection AddBenchmarks(this IServiceCollection services) => services.AddSingleton<CountMilestones>();
}
