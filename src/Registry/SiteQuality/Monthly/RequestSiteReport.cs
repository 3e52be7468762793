using Microsoft.EntityFrameworkCore;
using Npgsql;
using Registry.Access;
using Registry.Records;

namespace Registry.SiteQuality.Monthly;

/// <summary>A manager asks for word of the own site's monthly report, or stops it.</summary>
public sealed class RequestSiteReport(RegistryDb db, Viewer viewer, TimeProvider time)
{
    /// <returns>Null for whoever is not sent any: who does not manage the site.</returns>
    public async Task<bool?> IsWantedAsync(SiteId site, CancellationToken ct) => May(site)
        ? await Standing(site).AnyAsync(ct) : null;

    /// <returns>False for whoever does not manage the site.</returns>
    public async Task<bool> SayAsync(string code, bool wanted, CancellationToken ct)
    {
        if (await db.Sites.AsNoTracking().FirstOrDefaultAsync(s => s.Code == code, ct) is not { } site || !May(site.Id)) return false;
        if (!wanted)
        {
            await Standing(site.Id).ExecuteUpdateAsync(w => w.SetProperty(p => p.EndedAt, time.GetUtcNow()), ct);
            return true;
        }

        if (await Standing(site.Id).AnyAsync(ct)) return true;
        db.Add(new SiteReportRequest
        {
            Id = Guid.CreateVersion7(),
            PersonId = viewer.PersonId!.Value,
            SiteId = site.Id,
            RequestedAt = time.GetUtcNow(),
        });
        try
        {
            await db.SaveChangesAsync(ct);
        }
        catch (DbUpdateException e) when (e.InnerException is PostgresException { SqlState: PostgresErrorCodes.UniqueViolation })
        {
            // The button was pressed twice.
        }

        return true;
    }

    private bool May(SiteId site) => viewer is { IsSiteManager: true, PersonId: not null } && viewer.SiteId == site;

    private IQueryable<SiteReportRequest> Standing(SiteId site) =>
        db.Set<SiteReportRequest>().Where(w => w.PersonId == viewer.PersonId && w.SiteId == site && w.EndedAt == null);
}
