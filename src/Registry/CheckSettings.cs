using Registry.Access;
using Registry.Platform;

namespace Registry;

/// <summary>What a start is refused for, each in one sentence that says what to do: settings that would let strangers in.</summary>
public static class CheckSettings
{
    /// <summary>Says what is wrong; true when the program must not start.</summary>
    public static bool Refuse(WebApplicationBuilder builder, string[] args)
    {
        var problems = Problems(builder.Configuration, builder.Environment, args);
        foreach (var problem in problems) Console.Error.WriteLine($"Not started: {problem}");
        return problems.Count > 0;
    }

    public static IReadOnlyList<string> Problems(IConfiguration configuration, IHostEnvironment environment, string[] args)
    {
        var problems = new List<string>();
        var access = AccessSetup.Read(configuration);
        var reachable = ListenAddresses.OffLoopback(configuration);
        var connected = !string.IsNullOrEmpty(configuration.GetConnectionString("Registry"));
        if (!environment.IsDevelopment() && !connected && !Demonstration.AsksForPrivateDatabase(configuration))
            problems.Add("ConnectionStrings:Registry is not set. Set it; or Database:Embedded:Enabled=true for a private database, which "
                + "one process on one machine uses; or, for a demonstration on one's own machine, DOTNET_ENVIRONMENT=Development.");
        Demonstrating(configuration, environment, connected, args, reachable, problems);
        if (access.AllowHttp && reachable.Count > 0)
            problems.Add($"Access:AllowHttp is set, and the program would listen on {string.Join(", ", reachable)}. Plain HTTP is for "
                + "127.0.0.1 only: put a proxy with TLS in front and leave AllowHttp out.");
        if (!environment.IsDevelopment()) InService(configuration, access, reachable, problems);
        return problems;
    }

    private static void Demonstrating(IConfiguration configuration, IHostEnvironment environment, bool connected, string[] args,
        IReadOnlyList<string> reachable, List<string> problems)
    {
        var loads = args is ["demo", "load", ..];
        // Without a connection string the sentence above says it already.
        if (!(loads || (connected && Demonstration.Of(configuration).IsOn) || (environment.IsDevelopment()
            && Demonstration.Of(configuration).IsOn))) return;
        if (environment.IsProduction())
            problems.Add("The demonstration does not run in Production: its password is public. Leave Demo:Enabled out, or set "
                + "DOTNET_ENVIRONMENT=Development on a machine of your own.");
        if (reachable.Count > 0 && !loads)
            problems.Add($"The demonstration would listen on {string.Join(", ", reachable)}, where others reach it with a public "
                + "password. Set Urls to an address of this machine alone, such as http://127.0.0.1:5180.");
    }

    private static void InService(IConfiguration configuration, AccessSettings access, IReadOnlyList<string> reachable,
        List<string> problems)
    {
        var plain = reachable.Where(u => !u.StartsWith("https://", StringComparison.OrdinalIgnoreCase)).ToList();
        if (access.Proxies.Count == 0 && !access.AllowHttp && plain.Count > 0)
            problems.Add($"The program would listen on {string.Join(", ", plain)} in plain HTTP, and Access:Proxies declares no proxy "
                + "that adds TLS. Declare its address, or listen by https.");
        var (links, sends) = (configuration["Outreach:PublicUrl"], !string.IsNullOrEmpty(configuration["Outreach:Smtp:Host"]));
        if (links is null ? sends : !links.StartsWith("https://", StringComparison.OrdinalIgnoreCase))
            problems.Add("Outreach:PublicUrl is no https address. Links in letters begin with it: set it to where people reach this "
                + "registry.");
        if (configuration["OpenId:Authority"] is { Length: > 0 } authority
            && !authority.StartsWith("https://", StringComparison.OrdinalIgnoreCase))
            problems.Add("OpenId:Authority is no https address. Who people are is asked there: it must be reached by TLS.");
        if (!access.RequireSecondFactor)
            problems.Add("Access:RequireSecondFactor is switched off. Whoever sees more than one site shows a second factor: leave it "
                + "out.");
        if (access.KeyPassphrase is not { Length: >= AccessSettings.ShortestPassphrase })
            problems.Add($"Access:KeyPassphrase is not set or shorter than {AccessSettings.ShortestPassphrase} characters. It protects the "
                + "keys of forms in the database; make one with: openssl rand -hex 24");
        if ((configuration["AllowedHosts"] ?? "*").Split(';').Any(h => h.Trim() == "*"))
            problems.Add("AllowedHosts lets every host name in. Set it to the names this registry is reached by, separated by ';'.");
    }
}
