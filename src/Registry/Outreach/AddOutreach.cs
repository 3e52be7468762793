using Registry.Infants.Record;
using Registry.Platform.Jobs;

namespace Registry.Outreach;

public static class OutreachSetup
{
    public static IServiceCollection AddOutreach(this IServiceCollection services)
    {
        services.AddOptions<OutreachOptions>().BindConfiguration("Outreach").ValidateDataAnnotations()
            .Validate(o => o.Smtp.IsSafe, "Outreach:Smtp:Security None is for a mail server on this machine only: leave it out, or "
                + "set StartTls or Tls.")
            .ValidateOnStart();
        services.AddSingleton<QueueReminders>();
        services.AddSingleton<SendReminders>();
        services.AddSingleton<StopReminders>();
        services.AddScoped<ShowReminders>();
        services.AddScoped<SendAgain>();
        services.AddScoped<TellLetters>();
        services.AddScoped(s => new StoryPart(s.GetRequiredService<TellLetters>().ReadAsync));
        services.AddSingleton<MailStaff>();
        services.AddSingleton(RecurringJob.Of<QueueReminders>(
            "queue-reminders", "Reminders to families queued and withdrawn", "20 0 * * *", j =>
                j.RunAsync(CancellationToken.None), atStart: true));
        services.AddSingleton(RecurringJob.Of<SendReminders>(
            "send-reminders", "Queued reminders sent", "*/10 * * * *", j => j.RunAsync(CancellationToken.None)));
        services.AddScoped<MailTrailDigest>();
        services.AddSingleton(RecurringJob.Of<MailTrailDigest>(
            "digest-trail", "Digest of the access trail written and mailed", "40 0 * * *", j => j.RunAsync(CancellationToken.None)));
        return services;
    }
}
