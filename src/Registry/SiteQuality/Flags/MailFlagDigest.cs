using Hangfire;
using Microsoft.EntityFrameworkCore;
using Registry.Outreach;
using Registry.Platform;
using Registry.Platform.Jobs;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.SiteQuality.Equipment;

namespace Registry.SiteQuality.Flags;

/// <summary>What a week's letter counts.</summary>
/// <param name="New">Raised in the week.</param>
/// <param name="Waiting">Still open without an action; the new ones are among them.</param>
/// <param name="LookAgain">Watched until a day that has come.</param>
/// <param name="Closed">Closed in the week.</param>
/// <param name="Calibrations">Due within some weeks, or over.</param>
public readonly record struct FlagCounts(int New, int Waiting, int LookAgain, int Closed, int Calibrations)
{
    public bool IsEmpty => New + Waiting + LookAgain + Closed + Calibrations == 0;
}

/// <summary>
/// Writes once a week to each manager of a site, and to the coordinators, how many flags are new, wait for somebody to act, were closed,
/// and how many calibrations are due. Counts and a link: no unit, no screener, no infant. To a manager nothing to say is not said; a
/// coordinator's letter brings the link to the week's meeting, flags or not.
/// </summary>
/// <remarks>Queue <c>mail</c>, on Monday mornings and again every hour of Monday for what did not leave, one at a time, three retries. Each
/// letter that left is written down, so a second run in a week sends nothing.</remarks>
public sealed class MailFlagDigest(
    RegistryDb db, MailStaff mail, ListEvents equipment, PolicyStore policies, ProgramClock clock, TimeProvider time)
{
    [Queue(Queues.Mail)]
    [OneAtATime]
    [AutomaticRetry(Attempts = 3)]
    public async Task<string> RunAsync(CancellationToken ct)
    {
        if (!mail.HasServer) return "no mail server is set: no letter about flags left";
        var week = clock.Today.AddDays(-(((int)clock.Today.DayOfWeek + 6) % 7));
        var flags = await db.QualityFindings.AsNoTracking().Where(f => f.ClosedOn == null || f.ClosedOn >= week.AddDays(-7))
            .ToListAsync(ct);
        var due = await equipment.DueAsync(null, clock.Today, await policies.InForceAsync(clock.Today, ct), ct);
        var sent = await db.FlagDigests.AsNoTracking().Where(d => d.Week == week).Select(d => new { d.PersonId, d.SiteId }).ToListAsync(ct);
        var (left, failed) = (0, 0);
        foreach (var (person, site) in await RecipientsAsync(ct))
        {
            var counts = Count(flags.Where(f => site is null || f.SiteId == site.Id),
                due.Count(d => site is null || d.Site == site.Id), week);
            if (counts.IsEmpty && site is not null || sent.Exists(s => s.PersonId == person.Id && s.SiteId == site?.Id)) continue;
            if (!await mail.SendAsync(person.Email!, FlagWords.LetterSubject, FlagWords.Letter(counts, site?.Name,
                mail.Link("/flags"), site is null ? mail.Link("/meeting") : mail.Link($"/sites/{site.Code}/equipment")), ct))
            {
                failed++;
                continue;
            }

            db.FlagDigests.Add(new()
            {
                Id = Guid.CreateVersion7(),
                Week = week,
                PersonId = person.Id,
                SiteId = site?.Id,
                SentAt = time.GetUtcNow(),
            });
            await db.SaveChangesAsync(ct);
            left++;
        }

        return $"{left} letters about flags left, {failed} did not";
    }

    /// <summary>Coordinators, and who manages a site that is open; in each of the places they work in.</summary>
    private async Task<List<(Person Person, Site? Site)>> RecipientsAsync(CancellationToken ct)
    {
        var people = await db.Users.AsNoTracking().Where(p => p.DisabledAt == null && !p.Demonstration && p.Email != null)
            .ToDictionaryAsync(p => p.Id, ct);
        var places = await db.Set<PersonPlace>().AsNoTracking()
            .Where(p => p.Role == Role.SiteManager || p.Role == Role.Coordinator).ToListAsync(ct);
        var sites = await db.Sites.AsNoTracking().Where(s => s.Active).ToDictionaryAsync(s => s.Id, ct);
        return
        [
            .. people.Values.Select(p => (p.Id, p.Role, p.SiteId)).Concat(places.Select(p => (Id: p.PersonId, p.Role, p.SiteId))).Distinct()
                .Where(p => people.ContainsKey(p.Id) && (p.Role == Role.Coordinator
                    || p.Role == Role.SiteManager && p.SiteId is { } id && sites.ContainsKey(id)))
                .Select(p => (people[p.Id], p.Role == Role.Coordinator ? null : sites[p.SiteId!.Value])),
        ];
    }

    private FlagCounts Count(IEnumerable<QualityFinding> flags, int calibrations, DateOnly week)
    {
        var all = flags.ToList();
        var open = all.FindAll(f => f.ClosedOn is null);
        return new(
            open.Count(f => f.RecordedOn >= week.AddDays(-7) && f.RecordedOn < week),
            open.Count(f => f.State is FlagState.New or FlagState.Seen or FlagState.Explained),
            open.Count(f => f.State == FlagState.Watched && f.WatchedUntil <= clock.Today),
            all.Count(f => f.ClosedOn >= week.AddDays(-7) && f.ClosedOn < week), calibrations);
    }
}
