using System.Security.Cryptography;
using System.Text;
using System.Xml.Linq;
using Microsoft.AspNetCore.DataProtection;
using Microsoft.AspNetCore.DataProtection.KeyManagement;
using Microsoft.AspNetCore.DataProtection.XmlEncryption;
using Npgsql;
using Registry.Records;

namespace Registry.Access;

/// <summary>
/// The key ring of the framework's data protection: tokens of forms and the note a page leaves for the next. Sign-ins do not depend on it.
/// Kept in the database, so that every node has it; encrypted by <c>Access:KeyPassphrase</c>; bound to this installation, so that what
/// another one protected is refused even with the same keys.
/// </summary>
internal static class ProtectForms
{
    public static void AddProtectForms(this IServiceCollection services, AccessSettings settings)
    {
        services.AddSingleton<FindInstallation>();
        services.AddDataProtection().SetApplicationName("registry").PersistKeysToDbContext<RegistryDb>();
        // The framework wants its name before there is a database to ask: the installation is added where something is protected.
        var theirs = services.Single(s => s.ServiceType == typeof(IDataProtectionProvider));
        services.Remove(theirs);
        services.AddSingleton<IDataProtectionProvider>(s => new ProtectForInstallation(
            (IDataProtectionProvider)theirs.ImplementationFactory!(s), s.GetRequiredService<FindInstallation>()));
        if (settings.KeyPassphrase is { Length: > 0 } passphrase)
            services.Configure<KeyManagementOptions>(o => o.XmlEncryptor = new EncryptByPassphrase(passphrase));
    }
}

/// <summary>Protects for this installation only, whose id is a purpose before all others.</summary>
internal sealed class ProtectForInstallation(IDataProtectionProvider inner, FindInstallation find) : IDataProtectionProvider
{
    public IDataProtector CreateProtector(string purpose) =>
        new Later(() => inner.CreateProtector(find.Id.ToString()).CreateProtector(purpose));

    private sealed class Later(Func<IDataProtector> make) : IDataProtector
    {
        private IDataProtector? _made;

        private IDataProtector Made => _made ??= make();

        public IDataProtector CreateProtector(string purpose) => new Later(() => Made.CreateProtector(purpose));
        public byte[] Protect(byte[] plaintext) => Made.Protect(plaintext);
        public byte[] Unprotect(byte[] protectedData) => Made.Unprotect(protectedData);
    }
}

/// <summary>Which installation this is; asked once.</summary>
public sealed class FindInstallation(NpgsqlDataSource source)
{
    private Guid? _id;

    public Guid Id => _id ??= Read();

    // The framework configures its protection without awaiting.
    private Guid Read()
    {
        using var command = source.CreateCommand("select id from installation");
        return (Guid)command.ExecuteScalar()!;
    }
}

/// <summary>AES-256-GCM under a key derived from the passphrase.</summary>
/// <remarks>PBKDF2 with HMAC-SHA256, 600,000 rounds: OWASP, Password Storage Cheat Sheet (from memory).</remarks>
internal sealed class EncryptByPassphrase(string passphrase) : IXmlEncryptor
{
    private const int Rounds = 600_000;
    private const int SaltBytes = 16;
    private static readonly int NonceBytes = AesGcm.NonceByteSizes.MaxSize, TagBytes = AesGcm.TagByteSizes.MaxSize;

    public EncryptedXmlInfo Encrypt(XElement plaintextElement)
    {
        var (salt, nonce) = (RandomNumberGenerator.GetBytes(SaltBytes), RandomNumberGenerator.GetBytes(NonceBytes));
        var plain = Encoding.UTF8.GetBytes(plaintextElement.ToString(SaveOptions.DisableFormatting));
        var (cipher, tag) = (new byte[plain.Length], new byte[TagBytes]);
        using var aes = new AesGcm(KeyOf(passphrase, salt), TagBytes);
        aes.Encrypt(nonce, plain, cipher, tag);
        return new(new XElement("byPassphrase", Convert.ToBase64String([.. salt, .. nonce, .. tag, .. cipher])),
            typeof(DecryptByPassphrase));
    }

    /// <exception cref="CryptographicException">Another passphrase, or changed since.</exception>
    public static XElement Decrypt(string passphrase, XElement encrypted)
    {
        ReadOnlySpan<byte> all = Convert.FromBase64String(encrypted.Value);
        var sealedText = all[(SaltBytes + NonceBytes)..];
        var plain = new byte[sealedText.Length - TagBytes];
        using var aes = new AesGcm(KeyOf(passphrase, all[..SaltBytes]), TagBytes);
        aes.Decrypt(all.Slice(SaltBytes, NonceBytes), sealedText[TagBytes..], sealedText[..TagBytes], plain);
        return XElement.Parse(Encoding.UTF8.GetString(plain));
    }

    private static byte[] KeyOf(string passphrase, ReadOnlySpan<byte> salt) =>
        Rfc2898DeriveBytes.Pbkdf2(passphrase, salt, Rounds, HashAlgorithmName.SHA256, 32);
}

/// <summary>Made by the framework, by name, with the program's services. A key it cannot decrypt (the passphrase changed) is left aside
/// and a new one made: forms opened before must be opened again.</summary>
public sealed class DecryptByPassphrase(IServiceProvider services) : IXmlDecryptor
{
    public XElement Decrypt(XElement encryptedElement) => EncryptByPassphrase.Decrypt(
        services.GetRequiredService<AccessSettings>().KeyPassphrase ?? throw new CryptographicException("Access:KeyPassphrase is not set."),
        encryptedElement);
}
