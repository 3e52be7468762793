using System.Security.Cryptography;
using System.Security.Cryptography.X509Certificates;

namespace Registry.Access;

/// <summary>Client certificates of systems, known by their SHA-256 fingerprint and not by who issued them: those a site's key demands, and
/// those of senders over MLLP. One whose days are over is no certificate.</summary>
public static class CertificatePins
{
    /// <summary>A fingerprint as it is compared: people write them with colons and in small letters too.</summary>
    public static string Normalize(string text) => text.Replace(":", "", StringComparison.Ordinal).Trim().ToUpperInvariant();

    public static bool IsFingerprint(string text) =>
        Normalize(text) is { Length: SHA256.HashSizeInBytes * 2 } f && f.All(char.IsAsciiHexDigit);

    public static string Of(X509Certificate2 certificate) => certificate.GetCertHashString(HashAlgorithmName.SHA256);

    public static bool IsInForce(X509Certificate2 certificate, DateTimeOffset now) =>
        now >= certificate.NotBefore.ToUniversalTime() && now <= certificate.NotAfter.ToUniversalTime();

    /// <param name="pins">Those demanded; none: nothing is demanded.</param>
    /// <param name="shown">What was shown in the handshake, by a caller who has its private key.</param>
    /// <param name="now">The moment.</param>
    public static bool Admit(IReadOnlyCollection<string> pins, X509Certificate2? shown, DateTimeOffset now) =>
        pins.Count == 0 || (shown is not null && IsInForce(shown, now) && pins.Contains(Of(shown)));
}
