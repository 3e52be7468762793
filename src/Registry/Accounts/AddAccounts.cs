using Registry.Platform.Jobs;

namespace Registry.Accounts;

public static class AccountsSetup
{
    public static IServiceCollection AddAccounts(this IServiceCollection services, IConfiguration configuration)
    {
        services.AddSingleton(configuration.GetSection("Demo").Get<DemoSettings>() ?? new());
        services.AddOpenIdSignIn(configuration);
        services.AddScoped<ListReads>();
        services.AddScoped<ListSessions>();
        services.AddScoped<ChangePassword>();
        services.AddScoped<ManagePeople>();
        services.AddScoped<InvitePeople>();
        services.AddScoped<ShowPerson>();
        services.AddScoped<ShowPlaces>();
        services.AddScoped<ChoosePassword>();
        services.AddScoped<SetSecondFactor>();
        services.AddScoped<Passkeys>();
        services.AddScoped<TellOfExpiringKeys>();
        services.AddSingleton(RecurringJob.Of<TellOfExpiringKeys>(
            "tell-of-expiring-keys", "Keys that run out soon told by mail", "50 5 * * *", j => j.RunAsync(CancellationToken.None)));
        return services;
    }
}
