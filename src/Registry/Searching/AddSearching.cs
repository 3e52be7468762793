using Registry.Infants.Record;

namespace Registry.Searching;

public static class SearchingSetup
{
    public static IServiceCollection AddSearching(this IServiceCollection services)
    {
        services.AddOptions<SearchingOptions>().BindConfiguration("Searching").ValidateDataAnnotations().ValidateOnStart();
        services.AddScoped<LookElsewhere>();
        services.AddScoped<RecordSearch>();
        services.AddScoped<CloseWork>();
        services.AddScoped<ShowSearches>();
        services.AddScoped(s => new StoryPart(s.GetRequiredService<ShowSearches>().TellAsync));
        return services;
    }
}
