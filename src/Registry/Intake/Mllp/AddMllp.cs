using Microsoft.Extensions.Options;

namespace Registry.Intake.Mllp;

internal static class MllpSetup
{
    public static IServiceCollection AddMllp(this IServiceCollection services)
    {
        services.AddOptions<MllpOptions>().BindConfiguration("Mllp").ValidateDataAnnotations().ValidateOnStart();
        services.AddSingleton<IValidateOptions<MllpOptions>, CheckMllpOptions>();
        services.AddSingleton<ListenForMllp>();
        services.AddHostedService(s => s.GetRequiredService<ListenForMllp>());
        return services;
    }
}
