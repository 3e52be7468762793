using Microsoft.EntityFrameworkCore;
using Microsoft.Extensions.Options;
using Registry.Access;
using Registry.Intake.Raw;
using Registry.Platform;
using Registry.Records;

namespace Registry.Claims;

/// <summary>A sender whose card ids led nowhere more often today than it may.</summary>
public sealed record SlowedSender(SiteId SiteId, string Name, int Rows, DateTimeOffset LastAt);

/// <summary>The senders that are slowed down today, for a coordinator to look at; who has a good reason may send on at once.</summary>
public sealed class SlowedSenders(
    RegistryDb db, ProgramClock clock, IOptions<IntakeOptions> options, Viewer viewer, ILogger<SlowedSenders> log)
{
    public async Task<IReadOnlyList<SlowedSender>> AllAsync(CancellationToken ct)
    {
        if (!viewer.IsCoordinator) return [];
        var (day, allowed) = (Today, options.Value.UnmatchedCardsPerDay);
        return await (
            from u in db.UnmatchedCounts
            join s in db.Sites on u.SiteId equals s.Id
            where u.Day == day && u.Rows > allowed
            orderby u.Rows descending
            select new SlowedSender(u.SiteId, s.Name, u.Rows, u.LastAt)).ToListAsync(ct);
    }

    /// <summary>The day's count begins anew.</summary>
    /// <returns>False when it is not the viewer's to say.</returns>
    public async Task<bool> LetSendAsync(SiteId site, CancellationToken ct)
    {
        if (!viewer.IsCoordinator) return false;
        var day = Today;
        await db.UnmatchedCounts.Where(u => u.SiteId == site && u.Day == day).ExecuteUpdateAsync(u => u.SetProperty(c => c.Rows, 0), ct);
        log.LogInformation("Person {PersonId} let site {SiteId} send on", viewer.PersonId, site.Value);
        return true;
    }

    private DateOnly Today => DateOnly.FromDateTime(clock.Now.UtcDateTime);
}
