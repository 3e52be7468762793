using System.Buffers.Text;
using System.Security.Cryptography;
using Microsoft.AspNetCore.DataProtection;

namespace Registry.Intake.Typing;

/// <summary>A key for what one person keeps on a device, and the same sealed for them.</summary>
/// <param name="Key">256 bits, base64url: the device uses it and cannot tell it again.</param>
/// <param name="Sealed">Stays on the device when the key does not; only the registry opens it, only for the same person.</param>
public sealed record DeviceLock(string Key, string Sealed);

/// <summary>
/// Keys for entries that wait on a device for the connection. A device holds the key while the session lasts; afterwards it holds the
/// sealed one, which is nothing without this installation and that person's next sign-in. So nothing that waits is lost, and nobody else
/// reads it (docs/decisions/2026-11-29-entries-without-a-connection.md).
/// </summary>
public sealed class LockDevice(IDataProtectionProvider protection)
{
    /// <summary>So long an entry can wait for its person; our own choice: longer than a weekend off.</summary>
    public const int Days = 7;

    private const int KeyBytes = 32;

    public DeviceLock New(Guid person)
    {
        var key = RandomNumberGenerator.GetBytes(KeyBytes);
        return new(Base64Url.EncodeToString(key), Base64Url.EncodeToString(Of(person).Protect(key, TimeSpan.FromDays(Days))));
    }

    /// <returns>The key; null when it was sealed for somebody else, elsewhere, too long ago, or altered.</returns>
    public string? Open(Guid person, string @sealed)
    {
        try
        {
            return Base64Url.EncodeToString(Of(person).Unprotect(Base64Url.DecodeFromChars(@sealed)));
        }
        catch (Exception e) when (e is CryptographicException or FormatException)
        {
            return null;
        }
    }

    private ITimeLimitedDataProtector Of(Guid person) =>
        protection.CreateProtector($"entries on a device of {person:n}").ToTimeLimitedDataProtector();
}
