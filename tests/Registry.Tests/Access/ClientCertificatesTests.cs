using System.Net;
using System.Security.Cryptography;
using System.Security.Cryptography.X509Certificates;
using System.Text;
using Microsoft.Extensions.DependencyInjection;
using Registry.Access;
using Registry.Records;
using Registry.Tests.Access.Tokens;
using Registry.Tests.Intake;

namespace Registry.Tests.Access;

/// <summary>Keys that demand a client certificate, over real TLS on loopback and behind a proxy that hands it on (RFC 9440). Every
/// certificate is made here.</summary>
public sealed class ClientCertificatesTests(TestDatabase database)
{
    private const string Row = "kind,record_number,birth_date,sex\nbirth,71,2026-11-01,female\n";

    [Fact]
    public async Task Over_TLS_a_key_that_demands_a_certificate_opens_with_that_one_and_with_no_other()
    {
        using var server = Certificate("localhost");
        using var own = Certificate("ward");
        using var other = Certificate("ward"); // the same name, another key
        using var over = Certificate("ward", ended: true);
        await using var bed = await StartAsync(server, CertificateSource.Tls);
        var (pinned, free) = (await KeyAsync(bed, own, over), await KeyAsync(bed));
        Assert.Equal(HttpStatusCode.OK, await SendAsync(bed, pinned, own));
        Assert.Equal(HttpStatusCode.Unauthorized, await SendAsync(bed, pinned, null));
        Assert.Equal(HttpStatusCode.Unauthorized, await SendAsync(bed, pinned, other));
        Assert.Equal(HttpStatusCode.Unauthorized, await SendAsync(bed, pinned, over));
        // A header says nothing here, whoever sends it.
        Assert.Equal(HttpStatusCode.Unauthorized, await SendAsync(bed, pinned, null, (TakeHeader, Rfc9440(own))));
        Assert.Equal(4, await bed.CountAsync("access_records where kind = 'key_refused'"));
        // A key that demands none is not asked for one, and any certificate is none to it; so are browsers.
        Assert.Equal(HttpStatusCode.OK, await SendAsync(bed, free, null));
        Assert.Equal(HttpStatusCode.OK, await SendAsync(bed, free, other));
        using var browser = Client(bed, null, null);
        Assert.Equal(HttpStatusCode.OK, (await browser.GetAsync("/sign-in", IntakeBed.Ct)).StatusCode);
    }

    [Fact]
    public async Task A_system_that_signs_shows_it_for_its_token_and_with_every_use_of_it()
    {
        using var server = Certificate("localhost");
        using var own = Certificate("ward");
        using var thief = Certificate("thief");
        await using var bed = await StartAsync(server, CertificateSource.Tls);
        using var system = await new SystemWithKeys().RegisterAsync(bed, bed.Harbour);
        await PinAsync(bed, system.Id, own);
        var aud = new Uri(new Uri(bed.App.Address), "/oauth/token").ToString();
        foreach (var shown in new[] { null, thief })
        {
            using var without = Client(bed, null, shown);
            var (status, answer) = await SystemWithKeys.PostAsync(without,
                SystemWithKeys.Form(system.Assertion((_, c) => c["aud"] = aud), "system/*.c"));
            Assert.Equal((400, "invalid_client"), (status, answer.GetProperty("error").GetString()));
        }

        using var client = Client(bed, null, own);
        var (given, token) = await SystemWithKeys.PostAsync(client,
            SystemWithKeys.Form(system.Assertion((_, c) => c["aud"] = aud), "system/*.c"));
        Assert.Equal(200, given);
        var text = token.GetProperty("access_token").GetString()!;
        Assert.Equal(HttpStatusCode.OK, await SendAsync(bed, text, own));
        Assert.Equal(HttpStatusCode.Unauthorized, await SendAsync(bed, text, null));
        Assert.Equal(HttpStatusCode.Unauthorized, await SendAsync(bed, text, thief));
    }

    [Theory]
    [InlineData(CertificateSource.Proxy, "127.0.0.1", "rfc9440", HttpStatusCode.OK)]
    [InlineData(CertificateSource.Proxy, "127.0.0.0/8", "pem", HttpStatusCode.OK)]
    [InlineData(CertificateSource.Proxy, "127.0.0.1", "other", HttpStatusCode.Unauthorized)]
    [InlineData(CertificateSource.Proxy, "127.0.0.1", "none", HttpStatusCode.Unauthorized)]
    [InlineData(CertificateSource.Proxy, "127.0.0.1", "broken", HttpStatusCode.Unauthorized)]
    [InlineData(CertificateSource.Proxy, "127.0.0.1", "twice", HttpStatusCode.Unauthorized)]
    [InlineData(CertificateSource.Proxy, "10.9.8.7", "rfc9440", HttpStatusCode.Unauthorized)] // from an address nobody declared
    [InlineData(CertificateSource.None, "127.0.0.1", "rfc9440", HttpStatusCode.Unauthorized)] // where nobody asks for certificates
    [InlineData(CertificateSource.Tls, "127.0.0.1", "rfc9440", HttpStatusCode.Unauthorized)] // where the program's own TLS asks
    public async Task What_a_proxy_hands_on_is_believed_from_declared_ones_alone(
        CertificateSource source, string proxy, string sent, HttpStatusCode answer)
    {
        using var own = Certificate("ward");
        using var other = Certificate("ward");
        await using var bed = await IntakeBed.StartAsync(database, new Dictionary<string, string?>
        {
            ["Access:ClientCertificates"] = source.ToString(),
            ["Access:Proxies:0"] = proxy,
        }, listen: true);
        var key = await KeyAsync(bed, own);
        (string, string)[] headers = sent switch
        {
            "rfc9440" => [(TakeHeader, Rfc9440(own))],
            "pem" => [(TakeHeader, Uri.EscapeDataString(own.ExportCertificatePem()))],
            "other" => [(TakeHeader, Rfc9440(other))],
            "broken" => [(TakeHeader, ":AAAA:")],
            "twice" => [(TakeHeader, Rfc9440(own)), (TakeHeader, Rfc9440(own))],
            _ => [],
        };
        Assert.Equal(answer, await SendAsync(bed, key, null, headers));
        Assert.Equal(answer, await SendAsync(bed, key, null, [.. headers, ("X-Forwarded-For", "192.0.2.9")]));
    }

    [Fact]
    public async Task A_proxy_that_is_to_be_believed_must_be_declared()
    {
        var refused = await Assert.ThrowsAsync<InvalidOperationException>(() => IntakeBed.StartAsync(database,
            new Dictionary<string, string?> { ["Access:ClientCertificates"] = "Proxy" }));
        Assert.Contains("Access:Proxies declares none", refused.Message, StringComparison.Ordinal);
    }

    [Fact]
    public async Task An_administrator_states_them_a_new_secret_demands_the_same_and_a_typing_error_is_said()
    {
        using var own = Certificate("ward");
        await using var bed = await IntakeBed.StartAsync(database);
        await KeyAsync(bed);
        var id = (await bed.ListAsync("select id from site_keys"))[0];
        using var administrator = await SignedIn.AsAsync(bed, Role.Administrator, null);
        var pin = CertificatePins.Of(own);
        var withColons = string.Join(':', pin.ToLowerInvariant().Chunk(2).Select(p => new string(p)));
        using (var wrong = await PinAsync(withColons[..^3]))
            Assert.Contains("is no SHA-256 fingerprint", await wrong.Content.ReadAsStringAsync(IntakeBed.Ct), StringComparison.Ordinal);
        Assert.Equal(0, await bed.CountAsync("site_keys where certificates <> '{}'"));
        using (var right = await PinAsync(withColons)) Assert.Equal(HttpStatusCode.Redirect, right.StatusCode);
        Assert.Equal([pin], await bed.ListAsync("select unnest(certificates) from site_keys"));
        // This installation asks for none: said where it is stated.
        Assert.Contains("asks nobody for a certificate", await administrator.GetStringAsync($"/access/keys/{id}", IntakeBed.Ct),
            StringComparison.Ordinal);
        using var replaced = await SessionsTests.PostAsync(administrator, "/access/keys", "?handler=Replace", ("id", id));
        Assert.Equal([pin, pin], await bed.ListAsync("select unnest(certificates) from site_keys"));

        Task<HttpResponseMessage> PinAsync(string text) =>
            SessionsTests.PostAsync(administrator, $"/access/keys/{id}", "?handler=Certificates", ("Certificates", text));
    }

    private const string TakeHeader = "Client-Cert";

    private static string Rfc9440(X509Certificate2 certificate) => $":{Convert.ToBase64String(certificate.RawData)}:";

    private async Task<IntakeBed> StartAsync(X509Certificate2 server, CertificateSource source)
    {
        var app = await RegistryApp.StartAsync(database, settings: new Dictionary<string, string?>
        {
            ["Access:AllowHttp"] = "false",
            ["Access:ClientCertificates"] = source.ToString(),
        });
        return await IntakeBed.OnAsync(app.ListenByTls(server));
    }

    private static async Task<string> KeyAsync(IntakeBed bed, params X509Certificate2[] certificates)
    {
        await using var scope = bed.App.Services.CreateAsyncScope();
        var (key, secret) = await scope.ServiceProvider.GetRequiredService<SiteKeys>().IssueAsync(bed.Harbour, "ward", IntakeBed.Ct);
        await PinAsync(bed, key.Id, certificates);
        return secret;
    }

    private static async Task PinAsync(IntakeBed bed, Guid key, params X509Certificate2[] certificates)
    {
        await using var scope = bed.App.Services.CreateAsyncScope();
        Assert.True(await scope.ServiceProvider.GetRequiredService<SiteKeys>()
            .PinAsync(key, certificates.Select(CertificatePins.Of), IntakeBed.Ct));
    }

    private static async Task<HttpStatusCode> SendAsync(IntakeBed bed, string key, X509Certificate2? shown,
        params (string Name, string Value)[] headers)
    {
        using var client = Client(bed, key, shown);
        using var request = new HttpRequestMessage(HttpMethod.Post, "/api/v1/submissions");
        foreach (var header in headers.GroupBy(h => h.Name)) request.Headers.Add(header.Key, header.Select(h => h.Value));
        request.Content = new StringContent(Row, Encoding.UTF8, "text/csv");
        using var answer = await client.SendAsync(request, IntakeBed.Ct);
        return answer.StatusCode;
    }

    private static HttpClient Client(IntakeBed bed, string? key, X509Certificate2? shown)
    {
        var client = new HttpClient(new SocketsHttpHandler
        {
            AllowAutoRedirect = false,
            SslOptions =
            {
                RemoteCertificateValidationCallback = (_, certificate, _, _) => certificate?.Subject == "CN=localhost",
                ClientCertificates = shown is null ? null : [shown],
                LocalCertificateSelectionCallback = shown is null ? null : (_, _, _, _, _) => shown,
            },
        })
        { BaseAddress = new(bed.App.Address), Timeout = Eventually.Patience };
        if (key is not null) client.DefaultRequestHeaders.Authorization = new("Bearer", key);
        return client;
    }

    private static X509Certificate2 Certificate(string name, bool ended = false)
    {
        using var key = RSA.Create(2048);
        using var made = new CertificateRequest($"CN={name}", key, HashAlgorithmName.SHA256, RSASignaturePadding.Pkcs1)
            .CreateSelfSigned(DateTimeOffset.UtcNow.AddDays(-2), DateTimeOffset.UtcNow.AddDays(ended ? -1 : 1));
        return X509CertificateLoader.LoadPkcs12(made.Export(X509ContentType.Pkcs12), null, X509KeyStorageFlags.Exportable);
    }
}
