using System.Net;

namespace Registry.Access;

/// <summary>Settings of access: what a deployment may choose. Everything else is fixed in <see cref="AccessSetup"/>.</summary>
public sealed record AccessSettings
{
    public const int ShortestPassphrase = 20;

    /// <summary>Hours after which a person must sign in again, whatever was done meanwhile. How long a session may lie idle is the
    /// policy's choice.</summary>
    public int LongestHours { get; init; } = 12;

    /// <summary>Whoever sees more than one site shows a second factor. Only an installation that nobody else reaches may leave it
    /// out.</summary>
    public bool RequireSecondFactor { get; init; } = true;

    /// <summary>Permits plain HTTP: for a demonstration on one machine only; refused on any address but loopback.</summary>
    public bool AllowHttp { get; init; }

    /// <summary>Protects the keys of forms in the database. Required outside Development.</summary>
    public string? KeyPassphrase { get; init; }

    /// <summary>Addresses or networks (<c>10.20.0.0/16</c>) of the proxies in front: only they are believed about where a request came from
    /// and whether it came by TLS.</summary>
    public IReadOnlyList<string> Proxies { get; init; } = [];

    /// <summary>Where the client certificates come from that some keys of systems demand.</summary>
    public CertificateSource ClientCertificates { get; init; }

    /// <summary>Tries to sign in a minute from one address: a site's people share one.</summary>
    public int SignInsPerMinute { get; init; } = 30;

    /// <summary>Tries to sign in a minute from all addresses.</summary>
    public int AllSignInsPerMinute { get; init; } = 300;

    internal TimeSpan Longest => TimeSpan.FromHours(LongestHours);

    internal IEnumerable<IPNetwork> ProxyNetworks() => Proxies.Where(p => !string.IsNullOrWhiteSpace(p)).Select(p =>
        IPNetwork.TryParse(p, out var network) ? network
        : IPAddress.TryParse(p, out var address) ? new IPNetwork(address, address.GetAddressBytes().Length * 8)
        : throw new InvalidOperationException($"Access:Proxies holds '{p}', which is neither an IP address nor a network."));

    /// <exception cref="InvalidOperationException">A setting is out of its range.</exception>
    internal AccessSettings Checked()
    {
        if (LongestHours is < 1 or > 24) throw new InvalidOperationException("Access:LongestHours must be between 1 and 24.");
        if (SignInsPerMinute < 1 || AllSignInsPerMinute < 1)
            throw new InvalidOperationException("Access:SignInsPerMinute and Access:AllSignInsPerMinute must be at least 1.");
        if (ClientCertificates == CertificateSource.Proxy && !ProxyNetworks().Any())
            throw new InvalidOperationException("Access:ClientCertificates is Proxy, and Access:Proxies declares none to be believed.");
        _ = ProxyNetworks().ToList();
        return this;
    }
}
