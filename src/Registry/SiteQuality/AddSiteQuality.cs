namespace Registry.SiteQuality;

public static class SiteQualitySetup
{
    public static IServiceCollection AddSiteQuality(this IServiceCollection services)
    {
        services.AddSingleton<CountScreens>();
        services.AddSingleton<CompareSites>();
        services.AddSingleton<SilentSites>();
        return services;
    }
}
