namespace Registry.PolicyChanges;

/// <summary>Drafting a policy version, seeing whom it changes, putting it in force.</summary>
public static class PolicyChangesSetup
{
    public static IServiceCollection AddPolicyChanges(this IServiceCollection services) => services
        .AddSingleton<CountStatusChanges>()
        .AddScoped<ChangePolicy>()
        .AddScoped<ShowDraft>()
        .AddScoped<ListChangedInfants>();
}
