using System.Net.Security;
using System.Net.Sockets;
using System.Security.Authentication;
using System.Security.Cryptography;
using System.Security.Cryptography.X509Certificates;
using Microsoft.Extensions.Options;
using Npgsql;
using Registry.Intake.Mllp;
using Registry.Outreach;
using Registry.Platform.Database;

namespace Registry.Operations.Checks;

/// <summary>
/// The certificates a deployment named in its settings, and the one families' browsers are shown: can they be read, and until when do they
/// hold. Those of senders are known by their fingerprints and are the senders' own.
/// </summary>
internal sealed class CheckCertificates(
    IConfiguration configuration, IOptions<MllpOptions> mllp, IOptions<OutreachOptions> outreach, DatabaseLogins logins, TimeProvider time)
    : IInstallationCheck
{
    private static readonly TimeSpan Soon = TimeSpan.FromDays(30), Patience = TimeSpan.FromSeconds(5);

    /// <summary>Where a certificate is named.</summary>
    private sealed record Named(string Setting, string File, string? Key, string? Password);

    public async Task<IReadOnlyList<CheckLine>> RunAsync(bool reachOthers, CancellationToken ct)
    {
        var lines = Files().Select(Look).ToList();
        if (reachOthers && Uri.TryCreate(outreach.Value.PublicUrl, UriKind.Absolute, out var url) && url.Scheme == Uri.UriSchemeHttps)
            lines.Add(await ShownAsync(url, ct));
        return lines;
    }

    private IEnumerable<Named> Files()
    {
        foreach (var (i, listener) in mllp.Value.Listeners.Index())
            if (listener.Certificate is { Length: > 0 } file)
                yield return new($"Mllp:Listeners:{i}:Certificate", file, listener.CertificateKey, null);
        foreach (var section in configuration.GetSection("Kestrel:Certificates").GetChildren()
            .Concat(configuration.GetSection("Kestrel:Endpoints").GetChildren().Select(e => e.GetSection("Certificate"))))
            if (section["Path"] is { Length: > 0 } file)
                yield return new($"{section.Path}:Path", file, section["KeyPath"], section["Password"]);
        foreach (var (name, login) in new[]
        {
            ("Registry", logins.Writer), ("RegistryReader", logins.Reader), ("RegistryOwner", logins.Owner),
        })
        {
            if (login is null) continue;
            var connection = new NpgsqlConnectionStringBuilder(login);
            if (connection.SslCertificate is { Length: > 0 } own)
                yield return new($"ConnectionStrings:{name}, SSL Certificate", own, connection.SslKey, connection.SslPassword);
            if (connection.RootCertificate is { Length: > 0 } root)
                yield return new($"ConnectionStrings:{name}, Root Certificate", root, null, null);
        }
    }

    private CheckLine Look(Named named)
    {
        try
        {
            using var certificate = Read(named);
            return CheckWords.Certificate(named.Setting, certificate.NotBefore, certificate.NotAfter, time.GetUtcNow(), Soon);
        }
        catch (Exception e) when (e is CryptographicException or ArgumentException or IOException or UnauthorizedAccessException)
        {
            return CheckWords.CertificateUnreadable(named.Setting, e);
        }
    }

    /// <summary>With its key, where one is named: a certificate without it serves nobody.</summary>
    private static X509Certificate2 Read(Named named)
    {
        if (X509Certificate2.GetCertContentType(named.File) == X509ContentType.Pkcs12)
            return X509CertificateLoader.LoadPkcs12FromFile(named.File, named.Password);
        if (named.Key is not { Length: > 0 } key) return X509CertificateLoader.LoadCertificateFromFile(named.File);
        return named.Password is { Length: > 0 } password
            ? X509Certificate2.CreateFromEncryptedPemFile(named.File, password, key) : X509Certificate2.CreateFromPemFile(named.File, key);
    }

    private async Task<CheckLine> ShownAsync(Uri url, CancellationToken ct)
    {
        var (shown, setting) = (((DateTime From, DateTime Until)?)null, $"Outreach:PublicUrl ({url.Host})");
        using var patience = CancellationTokenSource.CreateLinkedTokenSource(ct);
        patience.CancelAfter(Patience);
        try
        {
            using var client = new TcpClient();
            await client.ConnectAsync(url.Host, url.Port, patience.Token);
            await using var tls = new SslStream(client.GetStream(), false, (_, certificate, _, errors) =>
            {
                using var copy = certificate is null ? null : new X509Certificate2(certificate);
                shown = copy is null ? null : (copy.NotBefore, copy.NotAfter);
                return errors == SslPolicyErrors.None;
            });
            await tls.AuthenticateAsClientAsync(new SslClientAuthenticationOptions { TargetHost = url.Host }, patience.Token);
            return shown is var (from, until) ? CheckWords.Certificate(setting, from, until, time.GetUtcNow(), Soon)
                : CheckWords.CertificateNotShown(setting);
        }
        catch (AuthenticationException) when (shown is not null)
        {
            return CheckWords.CertificateUntrusted(setting, shown.Value.Until);
        }
        catch (Exception e) when (e is SocketException or IOException or AuthenticationException or OperationCanceledException
            && !ct.IsCancellationRequested)
        {
            return CheckWords.CertificateNotShown(setting);
        }
    }
}
