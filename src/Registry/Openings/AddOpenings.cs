namespace Registry.Openings;

public static class OpeningsSetup
{
    public static IServiceCollection AddOpenings(this IServiceCollection services)
    {
        services.AddScoped<StateOpenings>();
        services.AddScoped<ListOpenings>();
        services.AddScoped<ReadOpenings>();
        return services;
    }
}
