using System.Security.Claims;
using Microsoft.AspNetCore.Identity;
using Microsoft.EntityFrameworkCore;
using Npgsql;
using Registry.Access;
using Registry.Platform.Data;
using Registry.Records;

namespace Registry.Accounts;

/// <summary>Why somebody whom the provider signed in is not let in here.</summary>
public enum OpenIdRefusal
{
    /// <summary>What came back is not the answer to what was asked, or nothing came.</summary>
    Failed,

    /// <summary>The provider names no role here.</summary>
    NoPlace,

    /// <summary>Nobody invited them.</summary>
    NotInvited,

    /// <summary>The provider states no e-mail address.</summary>
    NoAddress,

    /// <summary>Another person has this address.</summary>
    AddressTaken,
    Disabled,
}

/// <summary>Who came in.</summary>
public sealed record OpenIdAnswer(Person? Person, OpenIdRefusal Refusal, bool SecondFactor)
{
    public static OpenIdAnswer Refuse(OpenIdRefusal refusal) => new(null, refusal, false);
}

/// <summary>
/// Finds or makes the person behind an ID token that the handler has checked, and places them. They are known by issuer and subject, which
/// the provider gives to nobody else (OpenID Connect Core 1.0, 5.7), never by an address: but for somebody who was invited, whose link
/// still opens, and whose address the provider says it verified, that link is used up by this sign-in.
/// </summary>
public sealed class EnterByOpenId(
    OpenIdSettings settings, UserManager<Person> people, RegistryDb db, ManagePeople manage, OneTimeLinks links, Sessions sessions,
    AuditActs audit)
{
    public async Task<OpenIdAnswer> RunAsync(ClaimsPrincipal shown, CancellationToken ct)
    {
        if (shown.FindFirstValue("iss") is not { Length: > 0 } issuer || shown.FindFirstValue("sub") is not { Length: > 0 } subject)
            return OpenIdAnswer.Refuse(OpenIdRefusal.Failed);
        var login = new UserLoginInfo(issuer, subject, settings.Name);
        await using var transaction = await db.Database.BeginTransactionAsync(ct);
        // Two first sign-ins of one person at once make one.
        await AdvisoryLock.ForTransactionAsync((NpgsqlConnection)db.Database.GetDbConnection(), LockedThing.OpenIdPerson,
            $"{issuer}\n{subject}", ct);
        var answer = await FindAsync(shown, login, ct);
        await transaction.CommitAsync(ct);
        if (answer.Person is { } person) await audit.RecordAsync(AccessKind.SignedIn, person.Id, "openid", person.Id);
        else await audit.SignInFailedAsync((await people.FindByLoginAsync(issuer, subject))?.Id);
        return answer;
    }

    private async Task<OpenIdAnswer> FindAsync(ClaimsPrincipal shown, UserLoginInfo login, CancellationToken ct)
    {
        var places = await PlacesAsync(shown, ct);
        var known = await people.FindByLoginAsync(login.LoginProvider, login.ProviderKey);
        var person = known ?? await InvitedAsync(shown, ct);
        if (person is { DisabledAt: not null } or { Demonstration: true }) return OpenIdAnswer.Refuse(OpenIdRefusal.Disabled);
        if (settings.Places.Count > 0 && places.Count == 0)
        {
            if (known is not null) await sessions.EndAsync(known.Id, null, null, ct);
            return OpenIdAnswer.Refuse(OpenIdRefusal.NoPlace);
        }

        if (person is null && settings.Places.Count == 0) return OpenIdAnswer.Refuse(OpenIdRefusal.NotInvited);
        if (person is null)
        {
            (person, var refusal) = await AddAsync(shown, places[0]);
            if (person is null) return OpenIdAnswer.Refuse(refusal);
        }

        if (known is null) await LinkAsync(person, login, ct);
        if (settings.Places.Count > 0) await PlaceAsync(person, places, ct);
        return new(person, default, shown.FindAll(settings.FactorClaim).Any(c => settings.FactorValues.Contains(c.Value)));
    }

    /// <summary>What the provider says somebody is, in the order of the settings. A closed site is no place to work at.</summary>
    private async Task<IReadOnlyList<(Role Role, SiteId? Site)>> PlacesAsync(ClaimsPrincipal shown, CancellationToken ct)
    {
        var said = shown.FindAll(settings.PlaceClaim).Select(c => c.Value).ToHashSet(StringComparer.Ordinal);
        var matching = settings.Places.Where(p => said.Contains(p.Value)).ToList();
        var codes = matching.Select(p => p.Site?.ToLowerInvariant()).OfType<string>().ToList();
        var sites = await db.Sites.AsNoTracking().Where(s => s.Active && codes.Contains(s.Code))
            .ToDictionaryAsync(s => s.Code, s => s.Id, ct);
        return [.. matching.Where(p => string.IsNullOrEmpty(p.Site) || sites.ContainsKey(p.Site.ToLowerInvariant()))
            .Select(p => (p.AsRole!.Value, string.IsNullOrEmpty(p.Site) ? (SiteId?)null : sites[p.Site.ToLowerInvariant()])).Distinct()];
    }

    private async Task<Person?> InvitedAsync(ClaimsPrincipal shown, CancellationToken ct)
    {
        if (shown.FindFirstValue("email") is not { } email
            || !string.Equals(shown.FindFirstValue("email_verified"), "true", StringComparison.OrdinalIgnoreCase)) return null;
        return await people.FindByEmailAsync(email.Trim()) is { PasswordHash: null } person
            && await links.IsOpenAsync(LinkPurpose.Password, person.Id, ct)
            && (await people.GetLoginsAsync(person)).Count == 0 ? person : null;
    }

    private async Task<(Person? Person, OpenIdRefusal Refusal)> AddAsync(ClaimsPrincipal shown, (Role Role, SiteId? Site) place)
    {
        if (shown.FindFirstValue("email")?.Trim() is not { Length: <= 254 } email || !System.Net.Mail.MailAddress.TryCreate(email, out _))
            return (null, OpenIdRefusal.NoAddress);
        if (await people.FindByEmailAsync(email) is not null) return (null, OpenIdRefusal.AddressTaken);
        var name = shown.FindFirstValue("name") is { Length: > 0 } said ? said : email;
        return (await manage.AddOfOpenIdAsync(email, name, place.Role, place.Site), default);
    }

    private async Task LinkAsync(Person person, UserLoginInfo login, CancellationToken ct)
    {
        ManagePeople.Expect(await people.AddLoginAsync(person, login));
        if (person.PasswordHash is null) ManagePeople.Expect(await people.AddPasswordAsync(person, ManagePeople.UnknownPassword()));
        await links.EndAsync(LinkPurpose.Password, person.Id, ct);
        await audit.RecordAsync(AccessKind.PersonChanged, person.Id, "openid_linked");
    }

    /// <summary>The places are these and no others: each change is in the trail like an administrator's.</summary>
    private async Task PlaceAsync(Person person, IReadOnlyList<(Role Role, SiteId? Site)> places, CancellationToken ct)
    {
        if ((person.Role, person.SiteId) != places[0]) await manage.PlaceAsync(person.Id, new(places[0].Role, places[0].Site));
        foreach (var old in await db.PersonPlaces.AsNoTracking().Where(p => p.PersonId == person.Id).ToListAsync(ct))
            if (!places.Skip(1).Contains((old.Role, old.SiteId))) await manage.RemovePlaceAsync(person.Id, old.Id, ct);
        foreach (var (role, site) in places.Skip(1)) await manage.AddPlaceAsync(person.Id, new(role, site), ct);
    }
}
