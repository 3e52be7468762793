using System.Buffers.Text;
using System.Security.Cryptography;
using Microsoft.AspNetCore.Identity;
using Registry.Access;
using Registry.Records;

namespace Registry.Accounts;

/// <summary>Who works with the registry: made, given a role and a site, disabled, given a new password. Each ends what it must: whoever is
/// disabled or gets a new password is signed out everywhere; another role counts from the next request on.</summary>
public sealed class ManagePeople(UserManager<Person> people, Sessions sessions, TimeProvider clock, ILogger<ManagePeople> log)
{
    /// <summary>How long a given password opens the page that changes it.</summary>
    public static readonly TimeSpan GivenFor = TimeSpan.FromDays(3);

    /// <returns>The password to hand over, shown once; or what is wrong.</returns>
    public async Task<(string? Password, IReadOnlyList<string> Problems)> AddAsync(string email, string name, Role role, SiteId? site)
    {
        if (Misplaced(role, site) is { } misplaced) return (null, [misplaced]);
        var person = new Person
        {
            Id = Guid.CreateVersion7(),
            UserName = email.Trim(),
            Email = email.Trim(),
            EmailConfirmed = true,
            DisplayName = name.Trim(),
            Role = role,
            SiteId = site,
            GivenPasswordUntil = clock.GetUtcNow() + GivenFor,
        };
        var password = NewPassword();
        var made = await people.CreateAsync(person, password);
        if (!made.Succeeded) return (null, [.. made.Errors.Select(e => e.Description).Distinct()]);
        log.LogInformation("Person {PersonId} was added as {Role}", person.Id, role);
        return (password, []);
    }

    /// <returns>The password to hand over; null when there is no such person.</returns>
    public async Task<string?> GivePasswordAsync(Guid id, CancellationToken ct)
    {
        if (await people.FindByIdAsync(id.ToString()) is not { } person) return null;
        var password = NewPassword();
        person.GivenPasswordUntil = clock.GetUtcNow() + GivenFor;
        var token = await people.GeneratePasswordResetTokenAsync(person);
        Expect(await people.ResetPasswordAsync(person, token, password));
        await sessions.EndAsync(id, null, null, ct);
        log.LogInformation("Person {PersonId} was given a new password", id);
        return password;
    }

    /// <returns>What is wrong, in words; null when it is done.</returns>
    public async Task<string?> PlaceAsync(Guid id, Role role, SiteId? site)
    {
        if (Misplaced(role, site) is { } misplaced) return misplaced;
        if (await people.FindByIdAsync(id.ToString()) is not { } person) return AccountWords.NoSuchPerson;
        (person.Role, person.SiteId) = (role, site);
        Expect(await people.UpdateAsync(person));
        log.LogInformation("Person {PersonId} is now {Role}", id, role);
        return null;
    }

    /// <returns>False when there is no such person.</returns>
    public async Task<bool> DisableAsync(Guid id, bool disabled, CancellationToken ct)
    {
        if (await people.FindByIdAsync(id.ToString()) is not { } person) return false;
        person.DisabledAt = disabled ? clock.GetUtcNow() : null;
        Expect(await people.UpdateAsync(person));
        if (disabled) await sessions.EndAsync(id, null, null, ct);
        log.LogInformation("Person {PersonId} disabled: {Disabled}", id, disabled);
        return true;
    }

    /// <summary>Managers and screeners belong to a site, the program's own people to none.</summary>
    private static string? Misplaced(Role role, SiteId? site) => (role is Role.SiteManager or Role.Screener) == site is not null ? null
        : site is null ? AccountWords.NeedsSite : AccountWords.NeedsNoSite;

    private static string NewPassword() => Base64Url.EncodeToString(RandomNumberGenerator.GetBytes(15));

    private static void Expect(IdentityResult result)
    {
        if (!result.Succeeded) throw new InvalidOperationException(string.Join("; ", result.Errors.Select(e => e.Code)));
    }
}
