namespace Registry.Policies;

public static class PoliciesSetup
{
    public static IServiceCollection AddPolicies(this IServiceCollection services) => services.AddSingleton<PolicyStore>();
}
