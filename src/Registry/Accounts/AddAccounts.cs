namespace Registry.Accounts;

public static class AccountsSetup
{
    public static IServiceCollection AddAccounts(this IServiceCollection services, IConfiguration configuration)
    {
        services.AddSingleton(configuration.GetSection("Demo").Get<DemoSettings>() ?? new());
        services.AddScoped<ListReads>();
        services.AddScoped<ListSessions>();
        services.AddScoped<ChangePassword>();
        services.AddScoped<ManagePeople>();
        services.AddScoped<InvitePeople>();
        services.AddScoped<ShowPerson>();
        services.AddScoped<ShowPlaces>();
        services.AddScoped<ChoosePassword>();
        services.AddScoped<SetSecondFactor>();
        return services;
    }
}
