using Microsoft.EntityFrameworkCore;
using Registry.Access;
using Registry.Platform.Encryption;
using Registry.Records;

namespace Registry.Glasses;

/// <summary>One record that was opened, with names for ids.</summary>
/// <param name="Site">Where they work; null for the program's own people.</param>
/// <param name="Said">Why, in their own words.</param>
public sealed record GlassLine(OpenedGlass Glass, string Who, string? Site, string Said, bool IsOpen, string? EndedBy);

/// <summary>Somebody whose details led to no record more often than they may.</summary>
public sealed record GuessingPerson(string Who, int Tries, DateTimeOffset LastAt);

/// <summary>Records opened by breaking the glass: one's own, or for a coordinator everybody's; and closing them early.</summary>
public sealed class ListGlasses(RegistryDb db, Viewer viewer, TimeProvider clock, AuditActs audit)
{
    private const int Most = 200;

    /// <summary>The latest first: those that are open, and lately closed ones.</summary>
    public Task<IReadOnlyList<GlassLine>> AllAsync(CancellationToken ct) =>
        ReadAsync(db.OpenedGlasses.Where(g => viewer.IsCoordinator || g.PersonId == viewer.PersonId), ct);

    /// <summary>Those of one infant: a coordinator sees all, whoever opened it the own that are open.</summary>
    public Task<IReadOnlyList<GlassLine>> OfAsync(InfantId infant, CancellationToken ct) =>
        ReadAsync(db.OpenedGlasses.Where(g => g.InfantId == infant && (viewer.IsCoordinator || viewer.Glasses.Contains(g.Id))), ct);

    /// <summary>For a coordinator: who reached the limit of tries in a day.</summary>
    public async Task<IReadOnlyList<GuessingPerson>> GuessingAsync(int allowed, CancellationToken ct)
    {
        if (!viewer.IsCoordinator) return [];
        var since = clock.GetUtcNow() - BreakGlass.TriesCountFor;
        return await (
            from a in db.AccessRecords
            where a.Kind == AccessKind.GlassRefused && a.At > since
            join p in db.Users on a.PersonId equals p.Id
            group a by p.DisplayName into tries
            where tries.Count() >= allowed
            select new GuessingPerson(tries.Key, tries.Count(), tries.Max(t => t.At))).ToListAsync(ct);
    }

    /// <summary>Closes a record before its time: a coordinator any, whoever opened it the own.</summary>
    /// <returns>False when there is none such that is open.</returns>
    public async Task<bool> CloseAsync(Guid id, CancellationToken ct)
    {
        var now = clock.GetUtcNow();
        var glass = await db.OpenedGlasses.SingleOrDefaultAsync(g => g.Id == id && g.EndedAt == null && g.EndsAt > now
            && (viewer.IsCoordinator || g.PersonId == viewer.PersonId), ct);
        if (glass is null || viewer.PersonId is null) return false;
        (glass.EndedAt, glass.EndedBy) = (now, viewer.PersonId);
        await db.SaveChangesAsync(ct);
        await audit.RecordAsync(AccessKind.GlassClosed, id, infant: glass.InfantId);
        return true;
    }

    private async Task<IReadOnlyList<GlassLine>> ReadAsync(IQueryable<OpenedGlass> glasses, CancellationToken ct)
    {
        var now = clock.GetUtcNow();
        var lines = await (
            from g in glasses.AsNoTracking()
            join p in db.Users on g.PersonId equals p.Id
            join e in db.Users on g.EndedBy equals e.Id into ended
            from e in ended.DefaultIfEmpty()
            join s in db.Sites on g.SiteId equals s.Id into sites
            from s in sites.DefaultIfEmpty()
            orderby g.OpenedAt descending
            select new { Glass = g, Who = p.DisplayName, Site = s == null ? null : s.Name, EndedBy = e == null ? null : e.DisplayName })
            .Take(Most).ToListAsync(ct);
        return [.. lines.Select(l => new GlassLine(l.Glass, l.Who, l.Site,
            FieldKeys.OfProcess.Decrypt(l.Glass.Words, BreakGlass.WordsColumn)!,
            l.Glass.EndedAt is null && l.Glass.EndsAt > now, l.EndedBy))];
    }
}
