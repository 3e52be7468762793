using Hangfire;
using Microsoft.EntityFrameworkCore;
using Registry.Access;
using Registry.Outreach;
using Registry.Platform.Jobs;
using Registry.Records;

namespace Registry.Glasses;

/// <summary>Writes to the coordinators that a record was opened by breaking the glass, or that somebody tried too often. The letters name
/// who works there and no child; what was opened is on the page.</summary>
/// <remarks>Queue <c>mail</c>, at once and every quarter of an hour for what did not leave, one at a time, three retries. Without a
/// mail server nobody counts as told.</remarks>
public sealed class TellOfGlasses(RegistryDb db, MailStaff mail, TimeProvider clock)
{
    [Queue(Queues.Mail)]
    [OneAtATime]
    [AutomaticRetry(Attempts = 3)]
    public async Task<string> RunAsync(CancellationToken ct)
    {
        if (!mail.HasServer) return "no mail server is set: nobody was told of opened records";
        var untold = await db.OpenedGlasses.Where(g => g.ToldAt == null).OrderBy(g => g.OpenedAt).Take(100).ToListAsync(ct);
        var told = 0;
        foreach (var glass in untold)
        {
            var who = await db.Users.Where(p => p.Id == glass.PersonId).Select(p => p.DisplayName).SingleAsync(ct);
            var site = await db.Sites.Where(s => s.Id == glass.SiteId).Select(s => s.Name).SingleOrDefaultAsync(ct);
            if (!await WriteAsync(GlassWords.LetterSubject, GlassWords.Letter(who, glass, site, mail.Link("/glasses")), ct)) continue;
            glass.ToldAt = clock.GetUtcNow();
            await db.SaveChangesAsync(ct);
            told++;
        }

        return untold.Count == 0 ? "no record was opened" : $"told of {told} of {untold.Count} opened records";
    }

    [Queue(Queues.Mail)]
    [AutomaticRetry(Attempts = 3)]
    public async Task TriesAsync(Guid person, CancellationToken ct)
    {
        if (await db.Users.Where(p => p.Id == person).Select(p => p.DisplayName).SingleOrDefaultAsync(ct) is { } who)
            await WriteAsync(GlassWords.TriesSubject, GlassWords.TriesLetter(who, mail.Link("/glasses")), ct);
    }

    private async Task<bool> WriteAsync(string subject, string text, CancellationToken ct)
    {
        var coordinators = await db.Users.Where(p => p.DisabledAt == null && !p.Demonstration
                && (p.Role == Role.Coordinator || db.PersonPlaces.Any(w => w.PersonId == p.Id && w.Role == Role.Coordinator)))
            .Select(p => p.Email!).ToListAsync(ct);
        var left = true;
        foreach (var to in coordinators) left &= await mail.SendAsync(to, subject, text, ct);
        return left;
    }
}
