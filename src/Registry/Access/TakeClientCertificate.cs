using System.Net;
using System.Security.Cryptography;
using System.Security.Cryptography.X509Certificates;
using Microsoft.Extensions.Primitives;

namespace Registry.Access;

/// <summary>Where the certificate of a system comes from.</summary>
public enum CertificateSource
{
    /// <summary>Nobody is asked for one: a key that demands one opens nothing.</summary>
    None,

    /// <summary>The program's own TLS asks for one, and takes it or goes on without.</summary>
    Tls,

    /// <summary>A declared proxy asks for one and hands it on.</summary>
    Proxy,
}

/// <summary>
/// The certificate a proxy saw in its handshake, handed on in the header <c>Client-Cert</c> (RFC 9440), or there as a PEM text with URL
/// escapes, as some proxies write it. Believed from declared proxies only; from anybody else, and wherever it is not asked for, the header
/// is taken away before anything reads it.
/// </summary>
internal static class TakeClientCertificate
{
    public const string Header = "Client-Cert";
    private const int Longest = 16 * 1024;

    public static Task RunAsync(HttpContext http, AccessSettings settings, IReadOnlyList<IPNetwork> proxies, RequestDelegate next)
    {
        var said = http.Request.Headers[Header];
        http.Request.Headers.Remove(Header);
        if (settings.ClientCertificates != CertificateSource.Tls)
            http.Connection.ClientCertificate = settings.ClientCertificates == CertificateSource.Proxy
                && IsProxy(http.Connection.RemoteIpAddress, proxies) ? Read(said) : null;
        return next(http);
    }

    private static bool IsProxy(IPAddress? address, IReadOnlyList<IPNetwork> proxies)
    {
        if (address is { IsIPv4MappedToIPv6: true }) address = address.MapToIPv4();
        return address is not null && proxies.Any(p => p.Contains(address));
    }

    /// <summary>Several are none: one would be the caller's own.</summary>
    private static X509Certificate2? Read(StringValues said)
    {
        if (said is not [{ Length: > 0 and <= Longest } text]) return null;
        try
        {
            return text is [':', .. var inner, ':']
                ? X509CertificateLoader.LoadCertificate(Convert.FromBase64String(inner))
                : X509Certificate2.CreateFromPem(Uri.UnescapeDataString(text));
        }
        catch (Exception e) when (e is FormatException or CryptographicException)
        {
            return null;
        }
    }
}
