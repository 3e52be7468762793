using System.Net;
using Registry.Records;
using Registry.Tests.Architecture;
using Registry.Tests.Intake;

namespace Registry.Tests.Access;

/// <summary>The program in Production with the settings of docker-compose.yml, behind a proxy with TLS.</summary>
public sealed class BehindProxyTests(TestDatabase database)
{
    private const string Host = "registry.test";

    [Fact]
    public async Task One_signs_in_through_the_proxy_with_the_settings_of_the_compose_file()
    {
        var (app, person) = await StartAsync();
        await using var running = app;
        await using var proxy = await TlsProxy.StartAsync(app.Address);
        using var browser = proxy.Browser(Host);
        using var form = await browser.GetAsync("/sign-in", IntakeBed.Ct);
        Assert.Equal(HttpStatusCode.OK, form.StatusCode);
        Assert.Equal("max-age=31536000; includeSubDomains", form.Headers.GetValues("Strict-Transport-Security").Single());
        Assert.False(form.Headers.Contains("Server"));

        using var entered = await SignedIn.PostAsync(browser, person, IntakeBed.Password);
        Assert.Equal(HttpStatusCode.Redirect, entered.StatusCode);
        Assert.All(form.Headers.GetValues("Set-Cookie").Concat(entered.Headers.GetValues("Set-Cookie")), cookie =>
        {
            Assert.StartsWith("__Host-", cookie, StringComparison.Ordinal);
            Assert.Contains("; secure", cookie, StringComparison.OrdinalIgnoreCase);
            Assert.Contains("; httponly", cookie, StringComparison.OrdinalIgnoreCase);
        });
        using var list = await browser.GetAsync("/follow-up", IntakeBed.Ct);
        Assert.Equal(HttpStatusCode.OK, list.StatusCode);
        using var elsewhere = await browser.GetAsync("/no-such-page", IntakeBed.Ct);
        Assert.Equal(HttpStatusCode.NotFound, elsewhere.StatusCode);
        // Where it came from is what the proxy said, so that limits and lists of sessions mean the person and not the proxy.
        using var own = await browser.GetAsync("/access/own", IntakeBed.Ct);
        Assert.Contains("127.0.0.1", await own.Content.ReadAsStringAsync(IntakeBed.Ct), StringComparison.Ordinal);

        // The note one page leaves for the next is as safe.
        using var ended = await SessionsTests.PostAsync(browser, "/access/own", "?handler=End");
        Assert.Contains(ended.Headers.GetValues("Set-Cookie"), c => c.StartsWith("__Host-registry-note=", StringComparison.Ordinal)
            && c.Contains("; secure", StringComparison.OrdinalIgnoreCase));
    }

    [Fact]
    public async Task Another_host_name_plain_text_and_an_undeclared_proxy_are_refused()
    {
        var (app, _) = await StartAsync();
        await using var running = app;
        await using var proxy = await TlsProxy.StartAsync(app.Address);
        using var wrongName = proxy.Browser("evil.test");
        Assert.Equal(HttpStatusCode.BadRequest, (await wrongName.GetAsync("/sign-in", IntakeBed.Ct)).StatusCode);

        using var plain = new HttpClient { BaseAddress = new(app.Address) };
        using var told = await plain.GetAsync("/sign-in", IntakeBed.Ct);
        Assert.Equal(HttpStatusCode.BadRequest, told.StatusCode);
        Assert.Contains("https only", await told.Content.ReadAsStringAsync(IntakeBed.Ct), StringComparison.Ordinal);
        Assert.False(told.Headers.Contains("Set-Cookie"));
        Assert.Equal(HttpStatusCode.OK, (await plain.GetAsync("/health/live", IntakeBed.Ct)).StatusCode);

        var (other, _) = await StartAsync(("Access:Proxies:0", "10.9.8.7"));
        await using var undeclared = other;
        await using var unknown = await TlsProxy.StartAsync(other.Address);
        using var browser = unknown.Browser(Host);
        Assert.Equal(HttpStatusCode.BadRequest, (await browser.GetAsync("/sign-in", IntakeBed.Ct)).StatusCode);
    }

    [Fact]
    public async Task Readiness_names_nothing_to_strangers()
    {
        var (app, _) = await StartAsync();
        await using var running = app;
        await using var proxy = await TlsProxy.StartAsync(app.Address);
        using var stranger = proxy.Browser(Host);
        Assert.Equal("{\"status\":\"Degraded\"}", await stranger.GetStringAsync("/health/ready", IntakeBed.Ct));
        // On the machine itself.
        using var monitor = new HttpClient { BaseAddress = new(app.Address) };
        Assert.Contains("no worker is running", await monitor.GetStringAsync("/health/ready", IntakeBed.Ct), StringComparison.Ordinal);
    }

    private async Task<(RegistryApp App, Person Person)> StartAsync(params (string Name, string Value)[] changed)
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var person = await bed.AddPersonAsync(Role.SiteManager, bed.Harbour);
        var settings = ComposeFileTests.WebSettings(new Dictionary<string, string>
        {
            ["REGISTRY_HOST"] = Host,
            ["SMTP_HOST"] = "relay.test",
            ["PROXY_ADDRESS"] = "127.0.0.1", // here the proxy stands on the same host without a network between
        }).Where(s => s.Key is not ("Urls" or "Encryption:KeyFile")).ToDictionary();
        settings["Access:KeyPassphrase"] = "a passphrase of this test only"; // a secret file
        settings["environment"] = "Production";
        settings["Access:RequireSecondFactor"] = "true"; // a start in service without it is refused
        foreach (var (name, value) in changed) settings[name] = value;
        return (RegistryApp.On(bed.App.Logins.Owner!, settings).Listen(), person);
    }
}
