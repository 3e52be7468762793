namespace Registry.Infants;

public static class InfantsSetup
{
    public static IServiceCollection AddInfants(this IServiceCollection services) => services.AddSingleton<StatusSource>().AddSingleton<ListInfants>();
}
