using Registry.Platform.Jobs;
using Registry.SiteQuality.Equipment;
using Registry.SiteQuality.Flags;
using Registry.SiteQuality.Monthly;

namespace Registry.SiteQuality;

public static class SiteQualitySetup
{
    public static IServiceCollection AddSiteQuality(this IServiceCollection services)
    {
        services.AddSingleton<CountScreens>();
        services.AddSingleton<CompareOutcomes>();
        services.AddSingleton<ReadUnits>();
        services.AddSingleton<ReadBirths>();
        services.AddSingleton<AskScreens>();
        services.AddSingleton<ReadCells>();
        services.AddSingleton<KeepPlans>();
        services.AddSingleton<KeepComparisons>();
        services.AddSingleton<ReadComparisons>();
        services.AddSingleton<CountKeptBack>();
        services.AddScoped<ReadFoundUnits>();
        services.AddScoped<ReadMarks>();
        services.AddSingleton<SilentSites>();
        services.AddSingleton<SilentFeeds>();
        services.AddSingleton<FindStoppedFacts>();
        services.AddSingleton<ClinicResults>();
        services.AddSingleton<MeasureDelays>();
        services.AddScoped<NameScreeners>();
        services.AddScoped<ShowSites>();
        services.AddScoped<ShowSite>();
        services.AddScoped<ShowCaseMix>();
        services.AddScoped<ShowUnit>();
        services.AddScoped<ListTests>();
        services.AddScoped<ListMissing>();
        services.AddScoped<RequestSiteReport>();
        services.AddScoped<MailSiteReports>();
        services.AddScoped<ShowFlag>();
        services.AddScoped<ListFlags>();
        services.AddScoped<ActOnFlag>();
        services.AddScoped<MailFlagDigest>();
        services.AddScoped<ListEvents>();
        services.AddScoped<ShowEquipment>();
        services.AddScoped<RecordEvent>();
        services.AddSingleton<ComputeSiteRates>();
        services.AddSingleton(RecurringJob.Of<ComputeSiteRates>(
            "compute-site-rates", "Sites, instruments, probes and screeners watched", "25 0 * * *", j =>
                j.RunAsync(CancellationToken.None), atStart: true));
        services.AddSingleton(RecurringJob.Of<MailFlagDigest>(
            "mail-flag-digest", "Weekly letters about flags", "10 6-18 * * 1", j => j.RunAsync(CancellationToken.None)));
        services.AddSingleton(RecurringJob.Of<MailSiteReports>(
            "mail-site-reports", "Monthly letters about site reports", "20 6-18 1-3 * *", j => j.RunAsync(CancellationToken.None)));
        return services;
    }
}
