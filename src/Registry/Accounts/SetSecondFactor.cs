using System.Security.Cryptography;
using Microsoft.AspNetCore.DataProtection;
using Microsoft.AspNetCore.Identity;
using Microsoft.Extensions.Options;
using OtpNet;
using QRCoder;
using Registry.Access;
using Registry.Platform;
using Registry.Records;

namespace Registry.Accounts;

/// <summary>A key for an authenticator that is offered and not yet in use.</summary>
/// <param name="Key">As it is typed: base32, in groups of four.</param>
/// <param name="Picture">The same for a camera, as a data URI.</param>
/// <param name="Sealed">The same for the form, readable to this program alone.</param>
public sealed record OfferedFactor(string Key, string Picture, string Sealed);

/// <summary>Sets a person's second factor: an authenticator whose first code was shown, and ten recovery codes.</summary>
public sealed class SetSecondFactor(
    UserManager<Person> people, IUserStore<Person> store, IDataProtectionProvider protection, IOptions<ProgramOptions> program,
    AuditActs audit, TimeProvider clock)
{
    private const int KeyBytes = 20, RecoveryCodes = 10;

    private ITimeLimitedDataProtector Protector => protection.CreateProtector("second-factor").ToTimeLimitedDataProtector();

    /// <param name="person">Whose.</param>
    /// <param name="offered">What was offered before, to offer it again; null: a new one.</param>
    public OfferedFactor Offer(Person person, string? offered)
    {
        var key = Open(person, offered) ?? Base32Encoding.ToString(RandomNumberGenerator.GetBytes(KeyBytes)).TrimEnd('=');
        var name = Uri.EscapeDataString(program.Value.Name);
        using var code = QRCodeGenerator.GenerateQrCode(
            $"otpauth://totp/{name}:{Uri.EscapeDataString(person.Email!)}?secret={key}&issuer={name}", QRCodeGenerator.ECCLevel.M);
        using var picture = new PngByteQRCode(code);
        return new(string.Join(' ', key.Chunk(4).Select(c => new string(c))),
            $"data:image/png;base64,{Convert.ToBase64String(picture.GetGraphic(5))}",
            Protector.Protect($"{person.Id} {key}", TimeSpan.FromMinutes(30)));
    }

    /// <returns>The recovery codes, shown once; null when the code is none of the offered key's.</returns>
    public async Task<IReadOnlyList<string>?> RunAsync(Person person, string offered, string code, CancellationToken ct)
    {
        if (Open(person, offered) is not { } key || CheckSecondFactor.StepOf(key, code, clock.GetUtcNow()) is not { } step) return null;
        await ((IUserAuthenticatorKeyStore<Person>)store).SetAuthenticatorKeyAsync(person, key, ct);
        (person.TwoFactorEnabled, person.LastCodeStep) = (true, step);
        var codes = await people.GenerateNewTwoFactorRecoveryCodesAsync(person, RecoveryCodes); // saves the person too
        await audit.RecordAsync(AccessKind.SecondFactor, person.Id, "set", person.Id);
        return [.. codes!];
    }

    /// <summary>What was offered to this person within half an hour.</summary>
    private string? Open(Person person, string? offered)
    {
        if (string.IsNullOrEmpty(offered)) return null;
        try
        {
            return Protector.Unprotect(offered).Split(' ') is [var id, var key] && id == person.Id.ToString() ? key : null;
        }
        catch (CryptographicException)
        {
            return null;
        }
    }
}
