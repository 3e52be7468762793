using System.Security.Cryptography;
using Microsoft.AspNetCore.DataProtection;
using Microsoft.AspNetCore.Identity;
using Registry.Access;
using Registry.Platform;
using Registry.Records;

namespace Registry.Accounts;

/// <summary>What a browser is asked to make or show a passkey by.</summary>
/// <param name="Options">For the browser.</param>
/// <param name="Sealed">What its answer is held against, readable to this program alone.</param>
public sealed record PasskeyOffer(string Options, string Sealed);

/// <summary>Passkeys (W3C Web Authentication, by the identity library): added by somebody signed in, and instead of password and second
/// factor afterwards. One is only taken when its device has told its owner by a finger or a number, and only at this registry's own
/// address.</summary>
public sealed class Passkeys(
    IPasskeyHandler<Person> handler, UserManager<Person> people, IDataProtectionProvider protection, LimitSignIns limits,
    Demonstration demonstration, OpenIdSettings openId, AuditActs audit)
{
    public const int LongestAnswer = 32 * 1024;
    private static readonly TimeSpan Open = TimeSpan.FromMinutes(10);

    public async Task<PasskeyOffer> OfferNewAsync(Person person, HttpContext http)
    {
        var made = await handler.MakeCreationOptionsAsync(
            new() { Id = person.Id.ToString(), Name = person.Email!, DisplayName = person.DisplayName }, http);
        return new(made.CreationOptionsJson, Protector("new", person.Id).Protect(made.AttestationState!, Open));
    }

    /// <returns>False when the browser's answer is none to what was asked, or not this person's.</returns>
    public async Task<bool> AddAsync(Person person, string offered, string answer, HttpContext http)
    {
        if (answer.Length > LongestAnswer || Unseal(Protector("new", person.Id), offered) is not { } state) return false;
        var made = await handler.PerformAttestationAsync(new() { HttpContext = http, CredentialJson = answer, AttestationState = state });
        if (!made.Succeeded || made.UserEntity.Id != person.Id.ToString()) return false;
        if (!(await people.AddOrUpdatePasskeyAsync(person, made.Passkey)).Succeeded) return false;
        await audit.RecordAsync(AccessKind.SecondFactor, person.Id, "passkey_added");
        return true;
    }

    public async Task<PasskeyOffer> OfferSignInAsync(HttpContext http)
    {
        var made = await handler.MakeRequestOptionsAsync(null, http);
        return new(made.RequestOptionsJson, Protector("sign-in", null).Protect(made.AssertionState!, Open));
    }

    /// <returns>Who may be signed in; null: refused, whatever the matter.</returns>
    public async Task<Person?> SignInAsync(string offered, string answer, HttpContext http, CancellationToken ct)
    {
        using var lease = await limits.EnterAsync(http.Connection.RemoteIpAddress?.ToString() ?? "", ct);
        if (!lease.IsAcquired || answer.Length > LongestAnswer || Unseal(Protector("sign-in", null), offered) is not { } state) return null;
        var shown = await handler.PerformAssertionAsync(new() { HttpContext = http, CredentialJson = answer, AssertionState = state });
        if (shown.Succeeded && shown.Passkey.IsUserVerified && shown.User is { DisabledAt: null } person
            && (!person.Demonstration || demonstration.IsOn) && !await openId.IsElsewhereAsync(people, person))
        {
            await people.AddOrUpdatePasskeyAsync(person, shown.Passkey); // how often it was used
            await audit.RecordAsync(AccessKind.SignedIn, person.Id, "passkey", person.Id);
            return person;
        }

        await audit.SignInFailedAsync(shown.Succeeded ? shown.User.Id : null);
        return null;
    }

    public async Task<bool> RemoveAsync(Person person, string id)
    {
        var bytes = new byte[id.Length];
        if (!Convert.TryFromBase64String(id, bytes, out var length)) return false;
        if (!(await people.RemovePasskeyAsync(person, bytes[..length])).Succeeded) return false;
        await audit.RecordAsync(AccessKind.SecondFactor, person.Id, "passkey_removed");
        return true;
    }

    private ITimeLimitedDataProtector Protector(string what, Guid? whose) =>
        protection.CreateProtector("passkey", what, whose?.ToString() ?? "anybody").ToTimeLimitedDataProtector();

    private static string? Unseal(ITimeLimitedDataProtector protector, string offered)
    {
        try
        {
            return protector.Unprotect(offered);
        }
        catch (CryptographicException)
        {
            return null;
        }
    }
}
