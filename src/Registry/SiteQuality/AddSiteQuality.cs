using Registry.Platform.Jobs;

namespace Registry.SiteQuality;

public static class SiteQualitySetup
{
    public static IServiceCollection AddSiteQuality(this IServiceCollection services)
    {
        services.AddSingleton<CountScreens>();
        services.AddSingleton<CompareOutcomes>();
        services.AddSingleton<ReadUnits>();
        services.AddSingleton<ReadBirths>();
        services.AddSingleton<AskScreens>();
        services.AddSingleton<ReadCells>();
        services.AddSingleton<ReadFoundUnits>();
        services.AddSingleton<SilentSites>();
        services.AddSingleton<MeasureDelays>();
        services.AddScoped<NameScreeners>();
        services.AddScoped<ShowSites>();
        services.AddScoped<ShowSite>();
        services.AddScoped<ListTests>();
        services.AddSingleton<ComputeSiteRates>();
        services.AddSingleton(RecurringJob.Of<ComputeSiteRates>(
            "compute-site-rates", "Sites, instruments, probes and screeners watched", "25 0 * * *", j =>
                j.RunAsync(CancellationToken.None), atStart: true));
        return services;
    }
}
