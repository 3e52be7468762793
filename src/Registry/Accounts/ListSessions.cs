using Microsoft.EntityFrameworkCore;
using Registry.Access;
using Registry.Records;

namespace Registry.Accounts;

/// <summary>A person as the page of people shows them.</summary>
/// <param name="Person">Who.</param>
/// <param name="Site">The site they begin with.</param>
/// <param name="Sessions">In force.</param>
/// <param name="SeenAt">Their last request, to the minute.</param>
/// <param name="Places">Roles they have beside the first.</param>
public sealed record PersonLine(Person Person, string? Site, int Sessions, DateTimeOffset? SeenAt, IReadOnlyList<PersonPlace> Places);

/// <summary>Sessions in force: of one person, and how many each has.</summary>
public sealed class ListSessions(RegistryDb db, Sessions sessions)
{
    public async Task<IReadOnlyList<Session>> OfAsync(Guid person, CancellationToken ct) =>
        await (await sessions.InForceAsync(db, ct)).Where(s => s.PersonId == person).ToListAsync(ct);

    public async Task<Guid?> FindAsync(string email, CancellationToken ct)
    {
        var normal = email.ToUpperInvariant();
        return await db.Users.Where(p => p.NormalizedEmail == normal).Select(p => (Guid?)p.Id).SingleOrDefaultAsync(ct);
    }

    /// <summary>Everybody: who gets in first, then by name.</summary>
    public async Task<IReadOnlyList<PersonLine>> PeopleAsync(CancellationToken ct)
    {
        var open = await (await sessions.InForceAsync(db, ct)).GroupBy(s => s.PersonId).Select(g => new { g.Key, Count = g.Count() })
            .ToDictionaryAsync(g => g.Key, g => g.Count, ct);
        var seen = await db.Sessions.GroupBy(s => s.PersonId).Select(g => new { g.Key, Last = g.Max(s => s.SeenAt) })
            .ToDictionaryAsync(g => g.Key, g => g.Last, ct);
        var more = (await db.PersonPlaces.AsNoTracking().OrderBy(p => p.Since).ToListAsync(ct)).ToLookup(p => p.PersonId);
        var sites = await db.Sites.AsNoTracking().ToDictionaryAsync(s => s.Id, s => s.Name, ct);
        var people = await db.Users.AsNoTracking().OrderBy(p => p.DisabledAt != null).ThenBy(p => p.DisplayName).ThenBy(p => p.Id)
            .ToListAsync(ct);
        return [.. people.Select(p => new PersonLine(p, p.SiteId is { } site ? sites.GetValueOrDefault(site) : null,
            open.GetValueOrDefault(p.Id), seen.TryGetValue(p.Id, out var last) ? last : null, [.. more[p.Id]]))];
    }
}
