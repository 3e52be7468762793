using Microsoft.EntityFrameworkCore;
using Registry.Access;
using Registry.Records;

namespace Registry.Accounts;

/// <summary>One read in the trail; whose record it was is said by its id only.</summary>
public sealed record TrailLine(DateTimeOffset At, string Who, string Action, InfantId? Infant, int Infants);

/// <summary>Who looked at what, latest first: no infant's name is in it.</summary>
public sealed class ListTrail(RegistryDb db)
{
    public const int Most = 200;

    public async Task<IReadOnlyList<TrailLine>> LatestAsync(CancellationToken ct) => await db.AccessRecords.AsNoTracking()
        .OrderByDescending(a => a.Id).Take(Most)
        .Select(a => new TrailLine(a.At,
            db.Users.Where(p => p.Id == a.PersonId).Select(p => p.DisplayName).FirstOrDefault()
                ?? db.SiteKeys.Where(k => k.Id == a.SiteKeyId).Select(k => "site key " + k.Name).FirstOrDefault() ?? "unknown",
            a.Action, a.InfantId, a.InfantCount))
        .ToListAsync(ct);
}
