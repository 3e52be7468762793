using Microsoft.EntityFrameworkCore;
using Registry.Access;
using Registry.Platform;
using Registry.Records;

namespace Registry.Claims;

/// <summary>An agreement with the names of its sites and of who stated it.</summary>
public sealed record AgreementLine(CareAgreement Agreement, string From, string To, string? StatedBy);

/// <summary>The office states that infants of one site are seen at another, and ends that. The rows that waited for it are found by the
/// sweep of the intake.</summary>
public sealed class StateAgreements(RegistryDb db, ProgramClock clock, Viewer viewer, ILogger<StateAgreements> log)
{
    /// <summary>Those that hold first, then by site.</summary>
    /// <param name="site">From or to which; null for every site.</param>
    /// <param name="ct">Cancels.</param>
    public async Task<IReadOnlyList<AgreementLine>> OfAsync(SiteId? site, CancellationToken ct) =>
        await (from a in db.CareAgreements.AsNoTracking()
               join f in db.Sites on a.FromSiteId equals f.Id
               join t in db.Sites on a.ToSiteId equals t.Id
               join p in db.Users on a.StatedBy equals p.Id into people
               from p in people.DefaultIfEmpty()
               where site == null || a.FromSiteId == site || a.ToSiteId == site
               orderby a.UntilOn != null && a.UntilOn <= clock.Today, f.Name, t.Name, a.StatedAt
               select new AgreementLine(a, f.Name, t.Name, p == null ? null : p.DisplayName)).ToListAsync(ct);

    public async Task StateAsync(SiteId from, SiteId to, AgreementCovers covers, DateOnly fromOn, DateOnly? untilOn, CancellationToken ct)
    {
        var agreement = new CareAgreement
        {
            Id = Guid.CreateVersion7(),
            FromSiteId = from,
            ToSiteId = to,
            Covers = covers,
            FromOn = fromOn,
            UntilOn = untilOn,
            StatedAt = clock.Now,
            StatedBy = viewer.PersonId,
        };
        db.CareAgreements.Add(agreement);
        await db.SaveChangesAsync(ct);
        log.LogInformation("Person {PersonId} stated care agreement {AgreementId}", viewer.PersonId, agreement.Id);
    }

    /// <returns>False when there is none that holds.</returns>
    public async Task<bool> EndAsync(Guid id, CancellationToken ct)
    {
        var today = clock.Today;
        var agreement = await db.CareAgreements.SingleOrDefaultAsync(a => a.Id == id && (a.UntilOn == null || a.UntilOn > today), ct);
        if (agreement is null) return false;
        (agreement.UntilOn, agreement.EndedAt, agreement.EndedBy) = (today, clock.Now, viewer.PersonId);
        await db.SaveChangesAsync(ct);
        log.LogInformation("Person {PersonId} ended care agreement {AgreementId}", viewer.PersonId, id);
        return true;
    }
}
