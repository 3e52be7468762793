using System.Net;
using System.Security.Cryptography;
using System.Security.Cryptography.X509Certificates;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Hosting;
using Microsoft.AspNetCore.Hosting.Server;
using Microsoft.AspNetCore.Hosting.Server.Features;
using Microsoft.AspNetCore.Http;
using Microsoft.Extensions.DependencyInjection;

namespace Registry.Tests.Access;

/// <summary>A small proxy with TLS on a loopback port, as a deployment has one in front: it ends TLS, passes the host name on, and says
/// where a request came from and that it came by TLS.</summary>
internal sealed class TlsProxy : IAsyncDisposable
{
    private readonly WebApplication _app;
    private readonly HttpClient _onward;

    private TlsProxy(WebApplication app, HttpClient onward) => (_app, _onward) = (app, onward);

    public int Port => new Uri(_app.Services.GetRequiredService<IServer>().Features.Get<IServerAddressesFeature>()!.Addresses.Single())
        .Port;

    public static async Task<TlsProxy> StartAsync(string to)
    {
        var builder = WebApplication.CreateEmptyBuilder(new());
        builder.WebHost.UseKestrelCore().UseKestrelHttpsConfiguration()
            .ConfigureKestrel(k => k.AddServerHeader = false)
            .ConfigureKestrel(k => k.Listen(IPAddress.Loopback, 0, l => l.UseHttps(Certificate())));
        var onward = new HttpClient(new SocketsHttpHandler { AllowAutoRedirect = false, UseCookies = false }) { BaseAddress = new(to) };
        var app = builder.Build();
        app.Run(http => ForwardAsync(http, onward));
        await app.StartAsync();
        return new(app, onward);
    }

    /// <summary>A browser that knows it by a name and trusts its certificate.</summary>
    public HttpClient Browser(string name) => new(new SocketsHttpHandler
    {
        AllowAutoRedirect = false,
        CookieContainer = new(),
        ConnectCallback = async (_, ct) =>
        {
            var socket = new System.Net.Sockets.Socket(System.Net.Sockets.SocketType.Stream, System.Net.Sockets.ProtocolType.Tcp);
            await socket.ConnectAsync(IPAddress.Loopback, Port, ct);
            return new System.Net.Sockets.NetworkStream(socket, ownsSocket: true);
        },
        SslOptions = { RemoteCertificateValidationCallback = (_, certificate, _, _) => certificate?.Subject == "CN=proxy.test" },
    })
    { BaseAddress = new($"https://{name}"), Timeout = Eventually.Patience };

    public async ValueTask DisposeAsync()
    {
        await _app.DisposeAsync();
        _onward.Dispose();
    }

    private static async Task ForwardAsync(HttpContext http, HttpClient onward)
    {
        using var request = new HttpRequestMessage(new(http.Request.Method), http.Request.Path + http.Request.QueryString);
        if (http.Request.ContentLength > 0) request.Content = new StreamContent(http.Request.Body);
        foreach (var (name, values) in http.Request.Headers)
            if (!request.Headers.TryAddWithoutValidation(name, (IEnumerable<string?>)values))
                request.Content?.Headers.TryAddWithoutValidation(name, (IEnumerable<string?>)values);
        request.Headers.Host = http.Request.Host.Value;
        request.Headers.Add("X-Forwarded-For", http.Connection.RemoteIpAddress!.ToString());
        request.Headers.Add("X-Forwarded-Proto", "https");
        using var answer = await onward.SendAsync(request, http.RequestAborted);
        http.Response.StatusCode = (int)answer.StatusCode;
        foreach (var (name, values) in answer.Headers.Concat(answer.Content.Headers))
            if (name != "Transfer-Encoding") http.Response.Headers[name] = values.ToArray();
        await answer.Content.CopyToAsync(http.Response.Body, http.RequestAborted);
    }

    private static X509Certificate2 Certificate()
    {
        using var key = RSA.Create(2048);
        using var made = new CertificateRequest("CN=proxy.test", key, HashAlgorithmName.SHA256, RSASignaturePadding.Pkcs1)
            .CreateSelfSigned(DateTimeOffset.UtcNow.AddDays(-1), DateTimeOffset.UtcNow.AddDays(1));
        return X509CertificateLoader.LoadPkcs12(made.Export(X509ContentType.Pkcs12), null, X509KeyStorageFlags.Exportable);
    }
}
