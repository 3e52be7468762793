namespace Registry.Erasure;

public static class ErasureSetup
{
    public static IServiceCollection AddErasure(this IServiceCollection services)
    {
        services.AddScoped<DecideErasure>();
        services.AddScoped<ExportRecord>();
        return services;
    }
}
