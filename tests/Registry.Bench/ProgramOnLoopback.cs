using System.Net.Http.Headers;
using Microsoft.AspNetCore.Hosting;
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
        UseKestrel(0);
    }

    protected override void ConfigureWebHost(IWebHostBuilder builder) => builder
        .UseSetting("ConnectionStrings:Registry", _logins.Writer)
        .UseSetting("ConnectionStrings:RegistryReader", _logins.Reader)
        .UseSetting("Role", "web")
        .UseSetting("Program:Today", "2026-11-25")
        .UseSetting("Access:AllowHttp", "true")
        .UseSetting("Intake:RequestsPerMinute", "10000000")
        .UseSetting("Serilog:MinimumLevel:Default", "Warning");

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
