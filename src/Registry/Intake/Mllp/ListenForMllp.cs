using System.Net;
using System.Security.Cryptography.X509Certificates;
using Microsoft.AspNetCore.Connections;
using Microsoft.AspNetCore.Hosting.Server;
using Microsoft.AspNetCore.Http.Features;
using Microsoft.AspNetCore.Server.Kestrel.Core;
using Microsoft.AspNetCore.Server.Kestrel.Https;
using Microsoft.Extensions.Options;
using Registry.Access;
using Registry.Intake.Receiving;

namespace Registry.Intake.Mllp;

/// <summary>Listens for MLLP on ports of its own, on a Kestrel server of its own: the pages' addresses do not depend on it. Does nothing
/// without listeners, and nothing in a worker.</summary>
public sealed class ListenForMllp(
    IOptions<MllpOptions> options, IConfiguration configuration, IServiceProvider services, AnswerMessages answer, FindSite sites,
    TimeProvider time, ILoggerFactory logs) : IHostedService, IAsyncDisposable
{
    private readonly ILogger _log = logs.CreateLogger<ListenForMllp>();
    private readonly List<ListenOptions> _bound = [];
    private readonly LimitSenders _limits = new(options.Value);
    private KestrelServer? _server;

    /// <summary>Where it listens, in the order of the listeners.</summary>
    public IReadOnlyList<IPEndPoint> EndPoints => [.. _bound.Select(b => b.IPEndPoint!)];

    public async Task StartAsync(CancellationToken cancellationToken)
    {
        if (options.Value.Listeners.Count == 0 || configuration["Role"] == "worker") return;
        var kestrel = new KestrelServerOptions { ApplicationServices = services };
        kestrel.Limits.MaxConcurrentConnections = options.Value.MaxConnections;
        foreach (var listener in options.Value.Listeners) Add(kestrel, listener);
        _server = new KestrelServer(Options.Create(kestrel), services.GetRequiredService<IConnectionListenerFactory>(), logs);
        await _server.StartAsync(new NoHttp(), cancellationToken);
        foreach (var (listener, bound) in options.Value.Listeners.Zip(_bound))
            _log.LogInformation("MLLP: listening on {EndPoint}, {Security}, {Senders} senders", bound.IPEndPoint,
                listener.IsTls ? "TLS" : "plain text", listener.Senders.Count);
    }

    private void Add(KestrelServerOptions kestrel, MllpListener listener) =>
        kestrel.Listen(IPAddress.Parse(listener.Address), listener.Port, listen =>
        {
            _bound.Add(listen);
            if (listener.IsTls) listen.UseHttps(Tls(listener));
            var connection = new MllpConnection(listener, options.Value, answer, sites, _limits, _log);
            listen.Run(connection.RunAsync);
        });

    /// <summary>A client's certificate is known by its fingerprint, not by who issued it.</summary>
    private HttpsConnectionAdapterOptions Tls(MllpListener listener)
    {
        var known = listener.Senders.SelectMany(s => s.ClientCertificates).Select(CertificatePins.Normalize).ToHashSet();
        return new()
        {
            ServerCertificate = X509Certificate2.CreateFromPemFile(listener.Certificate!, listener.CertificateKey),
            ClientCertificateMode = known.Count == 0 ? ClientCertificateMode.NoCertificate
                : listener.Senders.Any(s => s.ClientCertificates.Count == 0) ? ClientCertificateMode.AllowCertificate
                : ClientCertificateMode.RequireCertificate,
            ClientCertificateValidation = (certificate, _, _) => CertificatePins.Admit(known, certificate, time.GetUtcNow()),
        };
    }

    public async Task StopAsync(CancellationToken cancellationToken)
    {
        if (_server is not null) await _server.StopAsync(cancellationToken);
    }

    public ValueTask DisposeAsync()
    {
        _server?.Dispose();
        _limits.Dispose();
        return ValueTask.CompletedTask;
    }

    /// <summary>These ports speak no HTTP.</summary>
    private sealed class NoHttp : IHttpApplication<object>
    {
        public object CreateContext(IFeatureCollection contextFeatures) => throw new NotSupportedException();
        public Task ProcessRequestAsync(object context) => throw new NotSupportedException();
        public void DisposeContext(object context, Exception? exception) => throw new NotSupportedException();
    }
}
