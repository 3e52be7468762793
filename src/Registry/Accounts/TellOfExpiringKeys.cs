using Hangfire;
using Microsoft.EntityFrameworkCore;
using Registry.Outreach;
using Registry.Platform;
using Registry.Platform.Jobs;
using Registry.Records;

namespace Registry.Accounts;

/// <summary>Writes to the administrators, and to who is called at the site, once before a key runs out: a system that cannot send is
/// noticed late. Replaced keys are left out: they are meant to.</summary>
/// <remarks>Queue <c>mail</c>, nightly, one at a time, three retries. Without a mail server nobody counts as told.</remarks>
public sealed class TellOfExpiringKeys(RegistryDb db, MailStaff mail, TimeProvider clock, ProgramClock days)
{
    private static readonly TimeSpan Before = TimeSpan.FromDays(21);

    [Queue(Queues.Mail)]
    [OneAtATime]
    [AutomaticRetry(Attempts = 3)]
    public async Task<string> RunAsync(CancellationToken ct)
    {
        var now = clock.GetUtcNow();
        var until = now + Before;
        var keys = await db.SiteKeys.Where(k => k.RevokedAt == null && k.ReplacedBy == null && k.ToldAt == null && !k.Demonstration
            && k.ExpiresAt > now && k.ExpiresAt < until).ToListAsync(ct);
        if (keys.Count == 0) return "no key runs out soon";
        if (!mail.HasServer) return $"no mail server is set: nobody was told of {keys.Count} keys that run out soon";
        var administrators = await db.Users.Where(p => p.Role == Role.Administrator && p.DisabledAt == null && !p.Demonstration)
            .Select(p => p.Email!).ToListAsync(ct);
        var told = 0;
        foreach (var key in keys)
        {
            var site = await db.Sites.SingleAsync(s => s.Id == key.SiteId, ct);
            var text = AccountWords.KeyRunsOut(key, site.Name, days.DateOf(key.ExpiresAt!.Value), mail.Link("/access/keys"));
            var left = true;
            foreach (var to in administrators.Append(site.ContactEmail).OfType<string>().Distinct())
                left &= await mail.SendAsync(to, AccountWords.KeyRunsOutSubject, text, ct);
            if (!left) continue; // the next night again
            key.ToldAt = now;
            await db.SaveChangesAsync(ct);
            told++;
        }

        return $"told of {told} of {keys.Count} keys that run out soon";
    }
}
