namespace Registry.SiteDirectory;

public static class SiteDirectorySetup
{
    public static IServiceCollection AddSiteDirectory(this IServiceCollection services)
    {
        services.AddScoped<SavePlace>();
        services.AddScoped<ListPlaces>();
        return services;
    }
}
