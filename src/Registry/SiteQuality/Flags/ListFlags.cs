using Microsoft.EntityFrameworkCore;
using Registry.Access;
using Registry.Platform;
using Registry.Records;

namespace Registry.SiteQuality.Flags;

/// <summary>Which flags a list shows.</summary>
public enum FlagFilter
{
    /// <summary>All that nobody closed.</summary>
    Open,

    /// <summary>Of them those nobody has looked at, and those somebody watches.</summary>
    New, Watched,

    Closed,
}

/// <summary>A flag with its site.</summary>
public sealed record FlagLine(Site Site, QualityFinding Flag, FlagStanding Standing, DateOnly? LastActOn);

/// <summary>Lists the flags of the sites a viewer answers for, as they stood on a day.</summary>
public sealed class ListFlags(RegistryDb db, NameScreeners names, ProgramClock clock, Viewer viewer)
{
    public const int Most = 500;

    /// <param name="filter">Which.</param>
    /// <param name="site">Of one site, by its code; null or empty: of all the viewer sees.</param>
    /// <param name="asOf">The day.</param>
    /// <param name="since">Only those raised, or closed, on this day or later; null: all.</param>
    /// <param name="ct">Cancels.</param>
    /// <returns>The newest first, at most <see cref="Most"/>.</returns>
    public async Task<IReadOnlyList<FlagLine>> AsOfAsync(FlagFilter filter, string? site, DateOnly asOf, DateOnly? since,
        CancellationToken ct)
    {
        var own = viewer.IsCoordinator ? null : viewer.SiteId;
        if (own is null && !viewer.IsCoordinator) return [];
        var query = db.QualityFindings.AsNoTracking().Where(f => f.RecordedOn <= asOf && (own == null || f.SiteId == own));
        query = filter == FlagFilter.Closed ? query.Where(f => f.ClosedOn <= asOf)
            : query.Where(f => f.ClosedOn == null || f.ClosedOn > asOf);
        if (since is { } first) query = query.Where(f => (filter == FlagFilter.Closed ? f.ClosedOn : f.RecordedOn) >= first);
        if (!string.IsNullOrEmpty(site)) query = query.Where(f => db.Sites.Any(s => s.Id == f.SiteId && s.Code == site));
        var flags = await query.OrderByDescending(f => f.RecordedOn).ThenByDescending(f => f.FoundOn).ThenBy(f => f.Id)
            .Take(Most).ToListAsync(ct);
        var (ids, until) = (flags.ConvertAll(f => f.Id), clock.EndOf(asOf));
        var acts = (await db.FlagActs.AsNoTracking().Where(a => ids.Contains(a.FindingId) && a.At <= until)
            .OrderBy(a => a.Number).ToListAsync(ct)).ToLookup(a => a.FindingId);
        var sites = await db.Sites.AsNoTracking().Where(s => own == null || s.Id == own).ToDictionaryAsync(s => s.Id, ct);
        return
        [
            .. flags.Select(f => new FlagLine(sites[f.SiteId], names.Of(f.KnownOn(asOf)),
                    FlagStanding.Of([.. acts[f.Id]], clock.DateOf), acts[f.Id].Any() ? clock.DateOf(acts[f.Id].Max(a => a.At)) : null))
                .Where(l => filter switch
                {
                    FlagFilter.New => l.Standing.State == FlagState.New,
                    FlagFilter.Watched => l.Standing.State == FlagState.Watched,
                    _ => true,
                }),
        ];
    }

    /// <summary>Sites to choose from.</summary>
    public async Task<IReadOnlyList<Site>> SitesAsync(CancellationToken ct) => viewer.IsCoordinator
        ? await db.Sites.AsNoTracking().Where(s => s.Active).OrderBy(s => s.Name).ToListAsync(ct) : [];
}
