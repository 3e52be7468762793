using Microsoft.EntityFrameworkCore;
using Registry.Access;
using Registry.Records;

namespace Registry.Accounts;

/// <summary>One read of an infant's record.</summary>
public sealed record Read(DateTimeOffset At, string Who, string Action);

/// <summary>Who looked at one infant's record, latest first.</summary>
public sealed class ListReads(RegistryDb db, Viewer viewer)
{
    public const int Most = 500;

    /// <returns>The latest reads and the number of all; null when the viewer sees no such infant.</returns>
    public async Task<(IReadOnlyList<Read> Latest, int Total)?> OfAsync(InfantId infant, CancellationToken ct)
    {
        // An auditor sees no infant, and so no name: whose record it is says only its id.
        if (!viewer.IsAuditor && !await db.VisibleInfants(viewer).AnyAsync(i => i.Id == infant, ct)) return null;
        var reads = db.AccessRecords.AsNoTracking().Where(a => a.InfantId == infant);
        var total = await reads.CountAsync(ct);
        var latest = await reads.OrderByDescending(a => a.At).ThenByDescending(a => a.Id).Take(Most)
            .Select(a => new Read(
                a.At,
                db.Users.Where(p => p.Id == a.PersonId).Select(p => p.DisplayName).FirstOrDefault()
                    ?? db.SiteKeys.Where(k => k.Id == a.SiteKeyId).Select(k => "site key " + k.Name).FirstOrDefault() ?? "unknown",
                a.Action))
            .ToListAsync(ct);
        return (latest, total);
    }
}
