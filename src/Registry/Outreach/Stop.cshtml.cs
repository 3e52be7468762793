using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Microsoft.EntityFrameworkCore;
using Microsoft.Extensions.Options;
using Registry.Platform;
using Registry.Records;

namespace Registry.Outreach;

/// <summary>
/// Ends the letters about one infant. Opening the link only asks, since mail scanners open links too; the button (or the one-click request
/// of RFC 8058) records it. An unknown token is answered the same, so that the page tells nobody anything.
/// </summary>
[AllowAnonymous, IgnoreAntiforgeryToken]
public sealed class StopModel(RegistryDb db, ProgramClock clock, IOptions<ProgramOptions> program) : PageModel
{
    public string Phone => program.Value.Phone;
    public bool Done { get; private set; }

    public void OnGet()
    {
    }

    public async Task OnPostAsync(string token, CancellationToken ct)
    {
        Done = true;
        if (token.Length > 100) return;
        await db.Database.ExecuteSqlAsync(
            $"""
            insert into mail_stops (infant_id, stopped_at) select infant_id, {clock.Now} from reminders where stop_token = {token}
            on conflict do nothing
            """, ct);
        await db.Database.ExecuteSqlAsync(
            $"""
            update reminders set state = 'withdrawn'
             where state = 'queued' and infant_id in (select infant_id from reminders where stop_token = {token})
            """, ct);
    }
}
