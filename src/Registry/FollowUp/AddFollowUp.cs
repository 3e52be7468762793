using Registry.Platform.Jobs;

namespace Registry.FollowUp;

public static class FollowUpSetup
{
    public static IServiceCollection AddFollowUp(this IServiceCollection services)
    {
        services.AddSingleton<ListWork>();
        services.AddScoped<OpenCallPanel>();
        services.AddScoped<KeepViews>();
        services.AddSingleton<FindLossToFollowUp>();
        services.AddSingleton(RecurringJob.Of<FindLossToFollowUp>(
            "find-loss-to-follow-up", "Infants newly lost, or found again", "15 0 * * *", j =>
                j.RunAsync(CancellationToken.None), atStart: true));
        return services;
    }
}
