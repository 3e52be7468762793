using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Microsoft.Extensions.Options;
using Registry.Platform;

namespace Registry.Outreach;

/// <summary>
/// Ends the reminders about one infant. Opening the link only asks, since mail scanners open links too; the button (or the one-click
/// request of RFC 8058) records it. An unknown token is answered the same, so that the page tells nobody anything.
/// </summary>
[AllowAnonymous, IgnoreAntiforgeryToken]
public sealed class StopModel(StopReminders stop, IOptions<ProgramOptions> program) : PageModel
{
    public string Phone => program.Value.Phone;
    public bool Done { get; private set; }

    public void OnGet()
    {
    }

    public async Task OnPostAsync(string token, CancellationToken ct)
    {
        await stop.RunAsync(token, ct);
        Done = true;
    }
}
