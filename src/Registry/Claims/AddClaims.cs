namespace Registry.Claims;

public static class ClaimsSetup
{
    public static IServiceCollection AddClaims(this IServiceCollection services)
    {
        services.AddScoped<ListClaims>();
        services.AddScoped<DecideClaims>();
        services.AddScoped<StateAgreements>();
        services.AddScoped<SlowedSenders>();
        return services;
    }
}
