namespace Registry.SetUp;

public static class SetUpSetup
{
    public static IServiceCollection AddSetUp(this IServiceCollection services)
    {
        services.AddScoped<AddFirstAdministrator>();
        services.AddScoped<ShowProgress>();
        services.AddScoped<StateProgram>();
        services.AddScoped<ChooseFirstPolicy>();
        services.AddScoped<TryMail>();
        return services;
    }
}
