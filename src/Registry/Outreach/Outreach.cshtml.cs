using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Microsoft.Extensions.Options;
using Registry.Access;
using Registry.Rules.Facts;

namespace Registry.Outreach;

/// <summary>Reminders to families: how many wait, left, failed or were withdrawn; which, for a state; the letter itself.</summary>
[Authorize(Policy = Permissions.Coordinator), ShowsInfants]
public sealed class OutreachModel(ShowReminders reminders, SendAgain again, IOptions<OutreachOptions> options) : PageModel
{
    public OutreachOptions Options => options.Value;
    public ShownReminders Shown { get; private set; } = null!;
    public Letter Letter { get; private set; } = WriteLetter.English;
    public string LetterText => reminders.Preview(Letter);

    public async Task OnGetAsync([FromQuery(Name = "show")] string? show, [FromQuery(Name = "language")] string? language,
        [FromQuery(Name = "page")] int? number, CancellationToken ct)
    {
        Letter = WriteLetter.In(language);
        var state = Codes.TryParse<ReminderState>(show, out var asked) ? asked : ReminderState.Queued;
        Shown = await reminders.PageAsync(state, Math.Clamp(number ?? 1, 1, 100_000), ct);
    }

    public async Task<IActionResult> OnPostAgainAsync(Guid id, CancellationToken ct)
    {
        var queued = await again.RunAsync(id, ct);
        TempData[queued ? "Done" : "Problem"] = OutreachWords.QueuedAgain(queued);
        return RedirectToPage(new { show = "failed" });
    }
}
