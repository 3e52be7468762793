using System.Globalization;
using Hangfire;
using Microsoft.EntityFrameworkCore;
using Registry.Outreach;
using Registry.Platform;
using Registry.Platform.Jobs;
using Registry.Records;

namespace Registry.SiteQuality.Monthly;

/// <summary>
/// Tells once a month each manager who wants it that the report of the site is there: a link, which asks for signing in. No count, no
/// name, no infant.
/// </summary>
/// <remarks>Queue <c>mail</c>, on the first three days of a month, every hour of the day for what did not leave, one at a time, three
/// retries. Each letter that left is written down, so a second run in a month sends nothing; without a mail server none leaves.</remarks>
public sealed class MailSiteReports(RegistryDb db, MailStaff mail, ProgramClock clock, TimeProvider time)
{
    [Queue(Queues.Mail)]
    [OneAtATime]
    [AutomaticRetry(Attempts = 3)]
    public async Task<string> RunAsync(CancellationToken ct)
    {
        if (!mail.HasServer) return "no mail server is set: no letter about a site report left";
        var month = new DateOnly(clock.Today.Year, clock.Today.Month, 1).AddMonths(-1);
        var (left, failed) = (0, 0);
        foreach (var (person, site) in await RecipientsAsync(month, ct))
        {
            var report = string.Create(CultureInfo.InvariantCulture,
                $"/sites/{site.Code}/report?from={month:yyyy-MM-dd}&to={month.AddMonths(1).AddDays(-1):yyyy-MM-dd}");
            if (!await mail.SendAsync(person.Email!, SiteWords.LetterSubject, SiteWords.Letter(site.Name, month, mail.Link(report)), ct))
            {
                failed++;
                continue;
            }

            db.Add(new SiteReportMail
            {
                Id = Guid.CreateVersion7(),
                Month = month,
                PersonId = person.Id,
                SiteId = site.Id,
                SentAt = time.GetUtcNow(),
            });
            await db.SaveChangesAsync(ct);
            left++;
        }

        return $"{left} letters about site reports left, {failed} did not";
    }

    /// <summary>Who wants it, still manages the site, and was not told of the month.</summary>
    private async Task<List<(Person Person, Site Site)>> RecipientsAsync(DateOnly month, CancellationToken ct)
    {
        var wanted = await
            (from wish in db.Set<SiteReportRequest>().AsNoTracking()
             join person in db.Users.AsNoTracking() on wish.PersonId equals person.Id
             join site in db.Sites.AsNoTracking() on wish.SiteId equals site.Id
             where wish.EndedAt == null && site.Active && person.DisabledAt == null && !person.Demonstration && person.Email != null
                 && (person.Role == Role.SiteManager && person.SiteId == site.Id
                     || db.Set<PersonPlace>().Any(p => p.PersonId == person.Id && p.Role == Role.SiteManager && p.SiteId == site.Id))
                 && !db.Set<SiteReportMail>().Any(l => l.Month == month && l.PersonId == person.Id && l.SiteId == site.Id)
             orderby wish.Id
             select new { person, site }).ToListAsync(ct);
        return wanted.ConvertAll(w => (w.person, w.site));
    }
}
