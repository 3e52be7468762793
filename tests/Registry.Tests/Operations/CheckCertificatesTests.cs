using System.Security.Cryptography;
using System.Security.Cryptography.X509Certificates;
using Microsoft.Extensions.DependencyInjection;
using Registry.Operations.Checks;
using Registry.Tests.Access;
using Registry.Tests.Intake;

namespace Registry.Tests.Operations;

/// <summary>A certificate that ends, has ended, cannot be read or does not fit its key is told before those who need it find out.</summary>
public sealed class CheckCertificatesTests(TestDatabase database) : IDisposable
{
    private readonly string _folder = Directory.CreateTempSubdirectory("registry-certificates-").FullName;

    [Theory]
    [InlineData(-400, -5, CheckState.Broken, "ended")]
    [InlineData(-300, 20, CheckState.Attention, "ends")]
    [InlineData(-1, 365, CheckState.Sound, "holds until")]
    [InlineData(10, 365, CheckState.Broken, "holds from")]
    public async Task Its_days_are_looked_at(int from, int until, CheckState state, string says)
    {
        var (file, key) = Make(from, until);
        await using var bed = await StartAsync(file, key);
        var line = Assert.Single(await CertificatesAsync(bed));
        Assert.Equal(state, line.State);
        Assert.Contains(says, line.Says, StringComparison.Ordinal);
        Assert.Contains("Kestrel:Certificates:Default:Path", line.Says, StringComparison.Ordinal);
    }

    [Fact]
    public async Task One_without_its_key_or_that_is_none_is_told_by_the_kind_of_error()
    {
        var (file, _) = Make(-1, 365);
        var (_, another) = Make(-1, 365);
        foreach (var (certificate, key) in new[] { (file, another), (Path.Combine(_folder, "none.pem"), another), (another, another) })
        {
            await using var bed = await StartAsync(certificate, key);
            var line = Assert.Single(await CertificatesAsync(bed));
            Assert.Equal(CheckState.Broken, line.State);
            Assert.DoesNotContain(_folder, line.ToString(), StringComparison.Ordinal);
        }
    }

    /// <summary>What families' browsers are shown, through the proxy in front; nobody here trusts the one who made it.</summary>
    [Fact]
    public async Task The_one_shown_at_the_public_address_is_looked_at_too()
    {
        await using var bed = await IntakeBed.StartAsync(database, listen: true);
        await using var proxy = await TlsProxy.StartAsync(bed.App.Address);
        await using var app = RegistryApp.On(bed.App.Logins.Owner!, new Dictionary<string, string?>
        {
            ["Outreach:PublicUrl"] = $"https://127.0.0.1:{proxy.Port}",
        });
        var shown = (await app.Services.GetRequiredService<CheckInstallation>().RunAsync(reachOthers: true, IntakeBed.Ct))
            .Single(l => l.Subject == "Certificate");
        Assert.Equal(CheckState.Broken, shown.State);
        Assert.Contains("not trusted by this machine", shown.Says, StringComparison.Ordinal);
        // The operations page asks no other machine.
        Assert.DoesNotContain(await app.Services.GetRequiredService<CheckInstallation>().RunAsync(reachOthers: false, IntakeBed.Ct),
            l => l.Subject is "Certificate" or "Mail");
    }

    [Fact]
    public async Task The_keys_of_forms_are_opened_with_the_passphrase_and_told_when_they_cannot_be()
    {
        await using var bed = await IntakeBed.StartAsync(database, new Dictionary<string, string?>
        {
            ["Access:KeyPassphrase"] = "the first of two passphrases",
        });
        using var client = bed.App.CreateClient();
        await client.GetStringAsync("/sign-in", IntakeBed.Ct); // makes the first key
        Assert.Equal(CheckState.Sound, await KeysAsync(bed.App));
        await using var other = RegistryApp.On(bed.App.Logins.Owner!, new Dictionary<string, string?>
        {
            ["Access:KeyPassphrase"] = "the second of two passphrases",
        });
        Assert.Equal(CheckState.Attention, await KeysAsync(other));
    }

    private static async Task<CheckState> KeysAsync(RegistryApp app) =>
        (await app.Services.GetRequiredService<CheckInstallation>().RunAsync(reachOthers: false, IntakeBed.Ct))
            .Single(l => l.Subject == "Form keys").State;

    private Task<IntakeBed> StartAsync(string certificate, string key) => IntakeBed.StartAsync(database, new Dictionary<string, string?>
    {
        ["Kestrel:Certificates:Default:Path"] = certificate,
        ["Kestrel:Certificates:Default:KeyPath"] = key,
    });

    private static async Task<IReadOnlyList<CheckLine>> CertificatesAsync(IntakeBed bed) =>
        [.. (await bed.App.Services.GetRequiredService<CheckInstallation>().RunAsync(reachOthers: false, IntakeBed.Ct))
            .Where(l => l.Subject == "Certificate")];

    /// <summary>A certificate of an invented name and its key, as PEM files.</summary>
    private (string File, string Key) Make(int fromDays, int untilDays)
    {
        using var key = ECDsa.Create(ECCurve.NamedCurves.nistP256);
        var request = new CertificateRequest("CN=registry.example", key, HashAlgorithmName.SHA256);
        var now = DateTimeOffset.UtcNow;
        using var certificate = request.CreateSelfSigned(now.AddDays(fromDays), now.AddDays(untilDays));
        var (file, keyFile) = (Path.Combine(_folder, $"{Guid.NewGuid():n}.pem"), Path.Combine(_folder, $"{Guid.NewGuid():n}.key"));
        File.WriteAllText(file, certificate.ExportCertificatePem());
        File.WriteAllText(keyFile, key.ExportPkcs8PrivateKeyPem());
        return (file, keyFile);
    }

    public void Dispose() => Directory.Delete(_folder, recursive: true);
}
