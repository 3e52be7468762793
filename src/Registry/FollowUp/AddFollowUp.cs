using Registry.FollowUp.Chance;
using Registry.Platform.Jobs;

namespace Registry.FollowUp;

public static class FollowUpSetup
{
    public static IServiceCollection AddFollowUp(this IServiceCollection services)
    {
        services.AddSingleton<ListWork>();
        services.AddScoped<OpenCallPanel>();
        services.AddSingleton<FitChanceOfLoss>();
        services.AddScoped<ShowChanceOfLoss>();
        services.AddSingleton(RecurringJob.Of<FitChanceOfLoss>(
            "fit-chance-of-loss", "Chance of loss to follow-up, from the registry's own past", "10 4 * * 0", j =>
                j.RunAsync(CancellationToken.None)));
        services.AddSingleton<FindLossToFollowUp>();
        services.AddSingleton(RecurringJob.Of<FindLossToFollowUp>(
            "find-loss-to-follow-up", "Infants newly lost, or found again", "15 0 * * *", j =>
                j.RunAsync(CancellationToken.None), atStart: true));
        return services;
    }
}
