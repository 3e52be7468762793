using Registry.Platform.Jobs;

namespace Registry.Glasses;

public static class GlassesSetup
{
    public static IServiceCollection AddGlasses(this IServiceCollection services)
    {
        services.AddScoped<BreakGlass>();
        services.AddScoped<ListGlasses>();
        services.AddScoped<TellOfGlasses>();
        services.AddSingleton(RecurringJob.Of<TellOfGlasses>(
            "tell-of-glasses", "Records opened by breaking the glass, told by mail", "*/15 * * * *", j =>
                j.RunAsync(CancellationToken.None)));
        return services;
    }
}
