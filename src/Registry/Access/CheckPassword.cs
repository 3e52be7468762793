using Microsoft.AspNetCore.Identity;
using Registry.Platform;
using Registry.Records;

namespace Registry.Access;

/// <summary>What became of a try to sign in.</summary>
/// <param name="Person">Who it is; null: refused.</param>
/// <param name="RetryAfter">Set when the try was not looked at.</param>
public sealed record PasswordAnswer(Person? Person, TimeSpan? RetryAfter = null);

/// <summary>
/// Checks an e-mail address and a password. Every try that is looked at costs exactly one hash, whether the address is unknown, the person
/// disabled, the try too soon or the password right, and all refusals are told in the same words.
/// </summary>
public sealed class CheckPassword(
    UserManager<Person> people, LimitSignIns limits, Sessions sessions, Demonstration demonstration, OpenIdSettings openId, AuditActs audit,
    TimeProvider clock, ILogger<CheckPassword> log)
{
    private static readonly Person Nobody = new() { DisplayName = "" };
    private static readonly string HashOfNobody = new PasswordHasher<Person>().HashPassword(Nobody, Guid.NewGuid().ToString());

    public async Task<PasswordAnswer> RunAsync(string email, string password, string address, CancellationToken ct)
    {
        using var lease = await limits.EnterAsync(address, ct);
        if (!lease.IsAcquired)
            return new(null, lease.TryGetMetadata(System.Threading.RateLimiting.MetadataName.RetryAfter, out var after)
                ? after : TimeSpan.FromSeconds(5));
        if (password.Length > RefuseWeakPasswords.Longest || email.Length > 254) return new(null);

        var account = people.NormalizeEmail(email.Trim()) ?? "";
        var person = await people.FindByEmailAsync(email.Trim());
        // Asked for nobody too: the same statements for an unknown address.
        var known = await sessions.KnowsAddressAsync(person?.Id ?? Guid.Empty, address, ct);
        var elsewhere = await openId.IsElsewhereAsync(people, person ?? Nobody);
        var tooSoon = limits.MustWait(account, address, known);
        var matches = Matches(person, password);
        if (person is not null && matches && !tooSoon && !elsewhere && MayEnter(person))
        {
            limits.Succeeded(account, address);
            await audit.RecordAsync(AccessKind.SignedIn, person.Id, by: person.Id);
            log.LogInformation("Person {PersonId} signed in", person.Id);
            return new(person);
        }

        limits.Failed(account, address, known);
        await audit.SignInFailedAsync(person?.Id);
        log.LogWarning("Sign-in refused; person {PersonId}, too soon: {TooSoon}", person?.Id, tooSoon);
        return new(null);
    }

    private bool Matches(Person? person, string password)
    {
        var hasher = people.PasswordHasher;
        var answer = hasher.VerifyHashedPassword(person ?? Nobody, person?.PasswordHash ?? HashOfNobody, password);
        return answer != PasswordVerificationResult.Failed && person?.PasswordHash is not null;
    }

    private bool MayEnter(Person person) => person.DisabledAt is null
        && (!person.Demonstration || demonstration.IsOn)
        && (person.GivenPasswordUntil is not { } until || clock.GetUtcNow() < until);
}
