using Registry.Access;
using Registry.Infants.Record;

namespace Registry.HandOffs;

public static class HandOffsSetup
{
    public static IServiceCollection AddHandOffs(this IServiceCollection services)
    {
        services.AddScoped<SendHandOff>();
        services.AddScoped<AnswerHandOff>();
        services.AddScoped<ShowHandOffs>();
        services.AddScoped(s => new StoryPart(s.GetRequiredService<ShowHandOffs>().TellAsync));
        services.AddSingleton<ListClinicWork>();
        services.AddSingleton<ListReferrals>();
        services.AddScoped<AskForAnswer>();
        services.AddKeyedSingleton(AnswerModel.Tries, (s, _) => ActivatorUtilities.CreateInstance<LimitSignIns>(s));
        services.AddScoped<OpenLink>();
        services.AddScoped<TakeAnswer>();
        return services;
    }
}
