using Microsoft.EntityFrameworkCore;
using Registry.Access;
using Registry.Records;

namespace Registry.Accounts;

/// <summary>One of the places somebody works in.</summary>
/// <param name="Id">Null for the first.</param>
/// <param name="Words">The role, and where.</param>
/// <param name="Here">The session works in it.</param>
public sealed record OwnPlace(Guid? Id, string Words, bool Here);

/// <summary>Where a person works, when it is more than one place.</summary>
public sealed class ShowPlaces(RegistryDb db, ShowPerson show)
{
    public async Task<(bool HasSecondFactor, IReadOnlyList<OwnPlace> Places)> OfAsync(Guid person, Guid? session, CancellationToken ct)
    {
        var who = await db.Users.AsNoTracking().SingleAsync(p => p.Id == person, ct);
        var more = await show.PlacesAsync(person, ct);
        if (more.Count == 0) return (who.TwoFactorEnabled, []);
        var here = await db.Sessions.Where(s => s.Id == session).Select(s => s.PlaceId).SingleOrDefaultAsync(ct);
        var ids = more.Select(p => p.SiteId).Append(who.SiteId).OfType<SiteId>().ToList();
        var names = await db.Sites.Where(s => ids.Contains(s.Id)).ToDictionaryAsync(s => s.Id, s => s.Name, ct);
        string Name(Role role, SiteId? site, string[] counties) =>
            PeopleWords.Place(role, site is { } id ? names[id] : "the program", counties);
        return (who.TwoFactorEnabled,
        [
            new(null, Name(who.Role, who.SiteId, who.Counties), here is null),
            .. more.Select(p => new OwnPlace(p.Id, Name(p.Role, p.SiteId, p.Counties), p.Id == here)),
        ]);
    }
}
