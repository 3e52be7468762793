using Registry.Platform.Jobs;

namespace Registry.Outreach;

public static class OutreachSetup
{
    public static IServiceCollection AddOutreach(this IServiceCollection services)
    {
        services.AddOptions<OutreachOptions>().BindConfiguration("Outreach").ValidateDataAnnotations().ValidateOnStart();
        services.AddSingleton<QueueReminders>();
        services.AddSingleton<SendReminders>();
        services.AddSingleton(RecurringJob.Of<QueueReminders>(
            "queue-reminders", "Letters to families queued and withdrawn", "20 0 * * *", j =>
                j.RunAsync(CancellationToken.None), atStart: true));
        services.AddSingleton(RecurringJob.Of<SendReminders>(
            "send-reminders", "Queued letters sent", "*/10 * * * *", j => j.RunAsync(CancellationToken.None)));
        return services;
    }
}
