using System.Buffers.Text;
using System.Security.Cryptography;
using Microsoft.AspNetCore.Identity;
using Microsoft.EntityFrameworkCore;
using Registry.Access;
using Registry.Records;

namespace Registry.Accounts;

/// <summary>What somebody is to be.</summary>
/// <param name="Role">What they do.</param>
/// <param name="Site">Where; null for the program.</param>
/// <param name="Counties">Case workers: whose infants they see, beside those assigned to them.</param>
public sealed record Placing(Role Role, SiteId? Site, params IReadOnlyList<string> Counties)
{
    /// <summary>People of a site belong to one, the program's own people to none; counties are case workers'.</summary>
    public string? Problem => Permissions.NeedsSite(Role) != Site is not null
        ? Site is null ? AccountWords.NeedsSite : AccountWords.NeedsNoSite
        : Counties.Count > 0 && Role != Role.CaseWorker ? AccountWords.CountiesOfCaseWorkers : null;

    /// <summary>What it says of somebody who is there: the same role at the same place, whatever the counties.</summary>
    public bool IsSamePlace(Role role, SiteId? site) => (Role, Site) == (role, site);
}

/// <summary>Who works with the registry: invited, given roles and sites, disabled, asked to choose another password. Nobody is ever
/// deleted. Each change ends what it must (whoever is disabled or asked is signed out everywhere; another role counts from the next request
/// on), is put to the trail, and is kept by the database with what was before.</summary>
public sealed class ManagePeople(
    UserManager<Person> people, RegistryDb db, Sessions sessions, OneTimeLinks links, AuditActs audit, TimeProvider clock)
{
    /// <summary>How long a given password opens the page that changes it.</summary>
    public static readonly TimeSpan GivenFor = TimeSpan.FromDays(3);

    private const int LongestName = 80;

    /// <summary>For the command line, where no link reaches anybody.</summary>
    /// <returns>The password to hand over, shown once; or what is wrong.</returns>
    public async Task<(string? Password, IReadOnlyList<string> Problems)> AddAsync(string email, string name, Role role, SiteId? site)
    {
        var placing = new Placing(role, site);
        if (placing.Problem is { } misplaced) return (null, [misplaced]);
        var person = New(email, name, placing);
        person.GivenPasswordUntil = clock.GetUtcNow() + GivenFor;
        var password = Base64Url.EncodeToString(RandomNumberGenerator.GetBytes(15));
        var made = await people.CreateAsync(person, password);
        if (!made.Succeeded) return (null, Problems(made));
        await audit.RecordAsync(AccessKind.PersonChanged, person.Id, "added");
        return (password, []);
    }

    /// <summary>For somebody who signs in elsewhere: a password nobody knows. A try with another costs what any try costs.</summary>
    internal static string UnknownPassword() => Base64Url.EncodeToString(RandomNumberGenerator.GetBytes(32));

    /// <summary>Somebody whom an OpenID provider names and places.</summary>
    public async Task<Person> AddOfOpenIdAsync(string email, string name, Role role, SiteId? site)
    {
        var person = New(email, name[..Math.Min(name.Length, LongestName)], new(role, site));
        Expect(await people.CreateAsync(person, UnknownPassword()));
        await audit.RecordAsync(AccessKind.PersonChanged, person.Id, "added");
        return person;
    }

    /// <returns>Who was invited and what stands in their link; or what is wrong.</returns>
    public async Task<(Person? Person, string? Token, IReadOnlyList<string> Problems)> InviteAsync(
        string email, string name, Placing placing, Guid? by, CancellationToken ct)
    {
        if (placing.Problem is { } misplaced) return (null, null, [misplaced]);
        var person = New(email, name, placing);
        var made = await people.CreateAsync(person);
        if (!made.Succeeded) return (null, null, Problems(made));
        await audit.RecordAsync(AccessKind.PersonChanged, person.Id, "invited");
        return (person, await links.MakeAsync(LinkPurpose.Password, person.Id, by, ct), []);
    }

    /// <summary>The password in use stops, and a link lets them choose another.</summary>
    /// <returns>Null when there is no such person.</returns>
    public async Task<(Person Person, string Token)?> AskForPasswordAsync(Guid id, Guid by, CancellationToken ct)
    {
        if (await FindAsync(id) is not { } person) return null;
        person.GivenPasswordUntil = null;
        Expect(await people.RemovePasswordAsync(person));
        await sessions.EndAsync(id, null, null, ct);
        await links.EndAsync(LinkPurpose.Password, id, ct);
        await audit.RecordAsync(AccessKind.PersonChanged, id, "asked_for_password");
        return (person, await links.MakeAsync(LinkPurpose.Password, id, by, ct));
    }

    /// <summary>What they begin with.</summary>
    /// <returns>What is wrong, in words; null when it is done.</returns>
    public async Task<string?> PlaceAsync(Guid id, Placing placing)
    {
        if (placing.Problem is { } misplaced) return misplaced;
        if (await FindAsync(id) is not { } person) return AccountWords.NoSuchPerson;
        (person.Role, person.SiteId, person.Counties) = (placing.Role, placing.Site, [.. placing.Counties]);
        Expect(await people.UpdateAsync(person));
        await audit.RecordAsync(AccessKind.PersonChanged, id, "placed");
        return null;
    }

    /// <summary>One more role, at a site or for the program.</summary>
    /// <returns>What is wrong, in words; null when it is done.</returns>
    public async Task<string?> AddPlaceAsync(Guid id, Placing placing, CancellationToken ct)
    {
        if (placing.Problem is { } misplaced) return misplaced;
        if (await FindAsync(id) is not { } person) return AccountWords.NoSuchPerson;
        if (placing.IsSamePlace(person.Role, person.SiteId)
            || await db.PersonPlaces.AnyAsync(p => p.PersonId == id && p.Role == placing.Role && p.SiteId == placing.Site, ct))
            return PeopleWords.HasPlace;
        db.PersonPlaces.Add(new()
        {
            Id = Guid.CreateVersion7(),
            PersonId = id,
            Role = placing.Role,
            SiteId = placing.Site,
            Counties = [.. placing.Counties],
            Since = clock.GetUtcNow(),
        });
        await db.SaveChangesAsync(ct);
        await audit.RecordAsync(AccessKind.PersonChanged, id, "place_added");
        return null;
    }

    /// <returns>False when there is no such place.</returns>
    public async Task<bool> RemovePlaceAsync(Guid id, Guid place, CancellationToken ct)
    {
        if (await db.PersonPlaces.Where(p => p.Id == place && p.PersonId == id).ExecuteDeleteAsync(ct) == 0) return false;
        await audit.RecordAsync(AccessKind.PersonChanged, id, "place_removed");
        return true;
    }

    /// <returns>False when there is no such person.</returns>
    public async Task<bool> DisableAsync(Guid id, bool disabled, CancellationToken ct)
    {
        if (await FindAsync(id) is not { } person) return false;
        person.DisabledAt = disabled ? clock.GetUtcNow() : null;
        Expect(await people.UpdateAsync(person));
        if (disabled)
        {
            await sessions.EndAsync(id, null, null, ct);
            await links.EndAsync(LinkPurpose.Password, id, ct);
        }

        await audit.RecordAsync(AccessKind.PersonChanged, id, disabled ? "disabled" : "enabled");
        return true;
    }

    /// <summary>For somebody who lost theirs: the next sign-in asks for a new one where one is required.</summary>
    /// <returns>False when there is no such person, or they have neither a second factor nor a passkey.</returns>
    public async Task<bool> TakeSecondFactorAsync(Guid id, CancellationToken ct)
    {
        if (await FindAsync(id) is not { } person) return false;
        if (await db.UserPasskeys.Where(k => k.UserId == id).ExecuteDeleteAsync(ct) == 0 && !person.TwoFactorEnabled) return false;
        person.LastCodeStep = null;
        Expect(await people.SetTwoFactorEnabledAsync(person, false));
        await db.UserTokens.Where(t => t.UserId == id).ExecuteDeleteAsync(ct);
        await sessions.EndAsync(id, null, null, ct);
        await audit.RecordAsync(AccessKind.SecondFactor, id, "taken_away");
        return true;
    }

    /// <summary>Gives back what was before a change: name, role, site, a place more or less, whether they get in.</summary>
    public async Task<bool> TakeBackAsync(PersonChange change, CancellationToken ct)
    {
        if (await FindAsync(change.PersonId) is not { } person) return false;
        switch (change)
        {
            case { Kind: "place_added", After: { } added }:
                var place = await db.PersonPlaces.FirstOrDefaultAsync(
                    p => p.PersonId == person.Id && p.Role == added.Role && p.SiteId == added.Site, ct);
                return place is not null && await RemovePlaceAsync(person.Id, place.Id, ct);
            case { Kind: "place_removed", Before: { } removed }:
                return await AddPlaceAsync(person.Id, removed.Placing, ct) is null;
            case { Kind: "update", Before: { } before }:
                (person.Role, person.SiteId, person.DisplayName) = (before.Role, before.Site, before.Name ?? person.DisplayName);
                person.Counties = [.. before.Placing.Counties];
                if (before.Disabled != (person.DisabledAt is not null)) return await DisableAsync(person.Id, before.Disabled, ct);
                Expect(await people.UpdateAsync(person));
                await audit.RecordAsync(AccessKind.PersonChanged, person.Id, "taken_back");
                return true;
            default:
                return false;
        }
    }

    private Task<Person?> FindAsync(Guid id) => people.FindByIdAsync(id.ToString());

    private static Person New(string email, string name, Placing placing) => new()
    {
        Id = Guid.CreateVersion7(),
        UserName = email.Trim(),
        Email = email.Trim(),
        EmailConfirmed = true,
        DisplayName = name.Trim(),
        Role = placing.Role,
        SiteId = placing.Site,
        Counties = [.. placing.Counties],
    };

    private static List<string> Problems(IdentityResult result) => [.. result.Errors.Select(e => e.Description).Distinct()];

    internal static void Expect(IdentityResult result)
    {
        if (!result.Succeeded) throw new InvalidOperationException(string.Join("; ", result.Errors.Select(e => e.Code)));
    }
}
