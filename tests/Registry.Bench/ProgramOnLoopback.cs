using System.Net;
using System.Net.Http.Headers;
using Microsoft.AspNetCore.Hosting;
using Microsoft.AspNetCore.Identity;
using Microsoft.AspNetCore.Mvc.Testing;
using Microsoft.Extensions.DependencyInjection;
using Registry.Access;
using Registry.Platform.Database;
using Registry.Records;

namespace Registry.Bench;

/// <summary>The program as it is served, on a free loopback port, on a database of the benchmark.</summary>
internal sealed class ProgramOnLoopback : WebApplicationFactory<RegistryDb>
{
    private readonly DatabaseLogins _logins;

    /// <param name="database">Its owner's.</param>
    public ProgramOnLoopback(string database)
    {
        _logins = DatabaseLogins.Beside(database);
        Environment.SetEnvironmentVariable("ASPNETCORE_TEST_CONTENTROOT_REGISTRY", AppContext.BaseDirectory);
        // By an endpoint of its own: a port given as a number is set when the program may have begun to listen already, which fails.
        UseKestrel(kestrel => kestrel.Listen(IPAddress.Loopback, 0));
    }

    protected override void ConfigureWebHost(IWebHostBuilder builder) => builder
        .UseSetting("ConnectionStrings:Registry", _logins.Writer)
        .UseSetting("ConnectionStrings:RegistryReader", _logins.Reader)
        .UseSetting("Role", "web")
        .UseSetting("Program:Today", "2026-11-25")
        .UseSetting("Access:AllowHttp", "true")
        .UseSetting("Access:RequireSecondFactor", "false") // else every page is the one that asks for it
        .UseSetting("Intake:RequestsPerMinute", "10000000")
        .UseSetting("Infants:SearchesPerMinute", "100000")
        .UseSetting("Serilog:MinimumLevel:Default", "Warning");

    /// <summary>Somebody of that role, signed in at a program that was started.</summary>
    public async Task<HttpClient> PersonClientAsync(Role role, SiteId? site, params string[] counties)
    {
        const string password = "brisk lantern under seven maples";
        var email = $"{Guid.CreateVersion7():n}@example.test";
        await using (var scope = Services.CreateAsyncScope())
        {
            var made = await scope.ServiceProvider.GetRequiredService<UserManager<Person>>().CreateAsync(new()
            {
                Id = Guid.CreateVersion7(),
                UserName = email,
                Email = email,
                DisplayName = "Somebody",
                Role = role,
                SiteId = site,
                Counties = counties,
            }, password);
            if (!made.Succeeded) throw new InvalidOperationException(made.ToString());
        }

        var http = new HttpClient { BaseAddress = ClientOptions.BaseAddress };
        var token = (await http.GetStringAsync("/sign-in")).Split("__RequestVerificationToken\" type=\"hidden\" value=\"")[1].Split('"')[0];
        using var form = new FormUrlEncodedContent(
            [new("Email", email), new("Password", password), new("__RequestVerificationToken", token)]);
        using var entered = await http.PostAsync("/sign-in", form);
        return http;
    }

    /// <summary>Starts it and makes a site; what is sent by the client is sent with the site's key.</summary>
    /// <param name="connections">Most at a time.</param>
    public async Task<HttpClient> SiteClientAsync(int connections)
    {
        StartServer();
        await using var scope = Services.CreateAsyncScope();
        var db = scope.ServiceProvider.GetRequiredService<RegistryDb>();
        var site = new Site { Id = SiteId.New(), Code = "bench", Name = "Bench Hospital", County = "Lind" };
        db.Sites.Add(site);
        await db.SaveChangesAsync();
        var (_, secret) = await scope.ServiceProvider.GetRequiredService<SiteKeys>().IssueAsync(site.Id, "bench");
        var http = new HttpClient(
            new SocketsHttpHandler { MaxConnectionsPerServer = connections })
        { BaseAddress = ClientOptions.BaseAddress };
        http.DefaultRequestHeaders.Authorization = new AuthenticationHeaderValue("Bearer", secret);
        return http;
    }
}
