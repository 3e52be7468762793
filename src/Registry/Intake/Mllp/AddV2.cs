using Microsoft.Extensions.Options;
using Registry.Intake.Receiving;

namespace Registry.Intake.Mllp;

internal static class V2Setup
{
    public static IServiceCollection AddV2(this IServiceCollection services)
    {
        services.AddSingleton<AcknowledgeSubmission>();
        services.AddSingleton<AnswerMessages>();
        services.AddOptions<MllpOptions>().BindConfiguration("Mllp").ValidateDataAnnotations().ValidateOnStart();
        services.AddSingleton<IValidateOptions<MllpOptions>, CheckMllpOptions>();
        services.AddSingleton<ListenForMllp>();
        services.AddHostedService(s => s.GetRequiredService<ListenForMllp>());
        return services;
    }
}
