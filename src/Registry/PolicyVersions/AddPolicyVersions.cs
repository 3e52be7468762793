namespace Registry.PolicyVersions;

public static class PolicyVersionsSetup
{
    public static IServiceCollection AddPolicyVersions(this IServiceCollection services) => services.AddSingleton<PolicyStore>();
}
