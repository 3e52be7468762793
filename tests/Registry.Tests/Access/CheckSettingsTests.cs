using System.Diagnostics;
using Microsoft.Extensions.Configuration;
using Microsoft.Extensions.Hosting.Internal;
using Registry.Demo;

namespace Registry.Tests.Access;

/// <summary>Starts that are refused, each with a sentence that says what to do.</summary>
public sealed class CheckSettingsTests(TestDatabase database)
{
    private const string Loopback = "Urls=http://127.0.0.1:5180";
    private const string Everywhere = "Urls=http://0.0.0.0:8080";
    private const string Connected = "ConnectionStrings:Registry=Host=db.example;Database=registry";
    private const string Proxied = "Access:Proxies:0=10.0.0.1";
    private const string InService = "Access:KeyPassphrase=twenty characters or more|AllowedHosts=registry.example";

    [Theory]
    [InlineData("Production", Connected, InService, Everywhere, Proxied)]
    [InlineData("Production", InService, Loopback, "Database:Embedded:Enabled=true")]
    [InlineData("Production", Connected, InService, Loopback, "Outreach:Smtp:Host=mail", "Outreach:PublicUrl=https://registry.example")]
    [InlineData("Production", Connected, InService, "https_ports=443")]
    [InlineData("Production", Connected, InService, "Kestrel:Endpoints:Web:Url=https://10.0.0.4:443")]
    [InlineData("Staging", Connected, InService, Loopback, "Demo:Enabled=true")]
    [InlineData("Development", Loopback, "Access:AllowHttp=true")]
    [InlineData("Development", Loopback, "Access:AllowHttp=true", Connected, "Demo:Enabled=true")]
    [InlineData("Development", "Urls=http://localhost:5180;http://[::1]:5180", "Access:AllowHttp=true")]
    [InlineData("Development", Connected, Everywhere)]
    public void What_lets_no_stranger_in_is_not_refused(string environment, params string[] settings) =>
        Assert.Empty(Problems(environment, [], settings));

    [Theory]
    [InlineData("ConnectionStrings:Registry is not set", "Production", Loopback, InService)]
    [InlineData("ConnectionStrings:Registry is not set", "Staging", Loopback, InService)]
    [InlineData("declares no proxy", "Production", Connected, InService, Everywhere)]
    [InlineData("declares no proxy", "Production", Connected, InService, "http_ports=8080")]
    [InlineData("PublicUrl is no https address", "Production", Connected, InService, Loopback,
        "Outreach:PublicUrl=http://registry.example")]
    [InlineData("PublicUrl is no https address", "Production", Connected, InService, Loopback, "Outreach:Smtp:Host=mail")]
    [InlineData("RequireSecondFactor is switched off", "Production", Connected, InService, Loopback, "Access:RequireSecondFactor=false")]
    [InlineData("does not run in Production", "Production", Loopback, InService, Connected, "Demo:Enabled=true")]
    [InlineData("would listen on http://0.0.0.0:8080, where others", "Development", Everywhere)]
    [InlineData("would listen on http://0.0.0.0:8080, where others", "Staging", Everywhere, InService, Proxied, Connected,
        "Demo:Enabled=true")]
    [InlineData("would listen on http://registry.example, where", "Development", "Urls=http://registry.example")]
    [InlineData("would listen on http://*:8080, where", "Development", "http_ports=8080")]
    [InlineData("would listen on http://[::]:80, where", "Development", "Urls=http://127.0.0.1:1;http://[::]:80")]
    [InlineData("Plain HTTP is for", "Development", Connected, Everywhere, "Access:AllowHttp=true")]
    [InlineData("Plain HTTP is for", "Production", Connected, InService, "Kestrel:Endpoints:A:Url=http://10.0.0.4",
        "Access:AllowHttp=true")]
    [InlineData("Access:KeyPassphrase is not set", "Production", Connected, Loopback, "AllowedHosts=registry.example")]
    [InlineData("shorter than 20", "Production", Connected, Loopback, "AllowedHosts=registry.example", "Access:KeyPassphrase=short")]
    [InlineData("AllowedHosts lets every", "Production", Connected, Loopback, "Access:KeyPassphrase=twenty characters or more")]
    [InlineData("AllowedHosts lets every", "Production", Connected, InService, Loopback, "AllowedHosts=registry.example;*")]
    [InlineData("OpenId:Authority is no https", "Production", Connected, InService, Loopback, "OpenId:Authority=http://id.example")]
    public void What_would_let_strangers_in_is_refused(string because, string environment, params string[] settings) =>
        Assert.Contains(because, Assert.Single(Problems(environment, [], settings)), StringComparison.Ordinal);

    [Fact]
    public void The_verb_that_loads_the_demonstration_is_refused_in_Production_too() =>
        Assert.Contains("does not run in Production",
            Assert.Single(Problems("Production", ["demo", "load"], Loopback, InService, Connected)), StringComparison.Ordinal);

    [Theory]
    [InlineData("Production", "ConnectionStrings:Registry is not set")]
    [InlineData("Development", "would listen on http://0.0.0.0:0")]
    public async Task The_program_itself_says_so_and_ends(string environment, string because)
    {
        var (code, said) = await RunAsync(environment, ("Urls", "http://0.0.0.0:0"), ("ConnectionStrings__Registry", ""),
            ("Access__AllowHttp", "false"));
        Assert.Equal(2, code);
        Assert.Contains("Not started: ", said, StringComparison.Ordinal);
        Assert.Contains(because, said, StringComparison.Ordinal);
    }

    [Fact]
    public async Task The_demonstration_does_not_start_on_a_database_in_service()
    {
        await using var app = await RegistryApp.StartAsync(database);
        await using (var db = app.OpenDb())
        {
            db.Users.Add(new Registry.Records.Person { Id = Guid.NewGuid(), DisplayName = "Somebody", UserName = "somebody" });
            await db.SaveChangesAsync(TestContext.Current.CancellationToken);
        }

        var (code, said) = await RunAsync("Development", ("Urls", "http://127.0.0.1:0"), ("Demo__Enabled", "true"),
            ("ConnectionStrings__Registry", app.Logins.Writer), ("ConnectionStrings__RegistryReader", app.Logins.Reader));
        Assert.Equal(2, code);
        Assert.Contains("is not marked as a demonstration", said, StringComparison.Ordinal);
        await Assert.ThrowsAsync<NotADemonstrationException>(() => LoadDemoRegion.RunAsync(
            app.Services, DemoRegion.Small(app.Today), _ => { }, TestContext.Current.CancellationToken));
    }

    private static IReadOnlyList<string> Problems(string environment, string[] args, params string[] settings) => CheckSettings.Problems(
        new ConfigurationBuilder().AddInMemoryCollection(settings.SelectMany(s => s.Split('|')).Select(s => s.Split('=', 2))
            .Select(s => new KeyValuePair<string, string?>(s[0], s[1])).Reverse().DistinctBy(s => s.Key)).Build(),
        new HostingEnvironment { EnvironmentName = environment }, args);

    private static async Task<(int Code, string Said)> RunAsync(string environment, params (string Name, string Value)[] settings)
    {
        var start = new ProcessStartInfo("dotnet", [typeof(Program).Assembly.Location])
        {
            RedirectStandardError = true,
            RedirectStandardOutput = true,
        };
        start.Environment["DOTNET_ENVIRONMENT"] = environment;
        foreach (var (name, value) in settings) start.Environment[name] = value;
        using var process = Process.Start(start)!;
        try
        {
            var output = process.StandardOutput.ReadToEndAsync(TestContext.Current.CancellationToken);
            var error = await process.StandardError.ReadToEndAsync(TestContext.Current.CancellationToken);
            await process.WaitForExitAsync(TestContext.Current.CancellationToken);
            return (process.ExitCode, await output + error);
        }
        finally
        {
            if (!process.HasExited) process.Kill();
        }
    }
}
