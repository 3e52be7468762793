namespace Registry.Meeting;

public static class MeetingSetup
{
    public static IServiceCollection AddMeeting(this IServiceCollection services)
    {
        services.AddSingleton<ListTopics>();
        services.AddScoped<ReadMeeting>();
        return services;
    }
}
