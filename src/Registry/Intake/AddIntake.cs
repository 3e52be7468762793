namespace Registry.Intake;

public static class IntakeSetup
{
    public static IServiceCollection AddIntake(this IServiceCollection services)
    {
        services.AddOptions<IntakeOptions>().BindConfiguration("Intake").ValidateDataAnnotations().ValidateOnStart();
        services.AddSingleton<ReceiveSubmission>();
        services.AddSingleton<ProcessSubmission>();
        services.AddSingleton<RetryHeldRows>();
        services.AddSingleton<SweepSubmissions>();
        return services;
    }
}
