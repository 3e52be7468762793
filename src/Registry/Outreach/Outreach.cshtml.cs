using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Microsoft.EntityFrameworkCore;
using Microsoft.Extensions.Options;
using Registry.Access;
using Registry.Platform;
using Registry.Records;
using Registry.Rules;

namespace Registry.Outreach;

/// <summary>Letters to families: how many wait, left, failed or were withdrawn; which, for a state; the letter itself.</summary>
[Authorize(Policy = Permissions.Coordinator), ShowsInfants]
public sealed class OutreachModel(RegistryDb db, AuditReads audit, ProgramClock clock,
    IOptions<OutreachOptions> options, IOptions<ProgramOptions> program) : PageModel
{
    private const int PageSize = 50;

    public sealed record CountLine(ReminderState State, DueStep Step, int Count);

    public OutreachOptions Options => options.Value;
    public IReadOnlyList<CountLine> Counts { get; private set; } = [];
    public int Stops { get; private set; }
    public ReminderState Show { get; private set; }
    public int Shown { get; private set; }
    public int PageNumber { get; private set; }
    public IReadOnlyList<Reminder> Reminders { get; private set; } = [];
    public Letter Letter { get; private set; } = WriteLetter.English;
    public string LetterText { get; private set; } = "";

    public int Of(ReminderState state) => Counts.Where(c => c.State == state).Sum(c => c.Count);

    public async Task OnGetAsync([FromQuery(Name = "show")] string? show, [FromQuery(Name = "language")] string? language,
        [FromQuery(Name = "page")] int? number, CancellationToken ct)
    {
        Counts = [.. (await db.Reminders.GroupBy(r => new { r.State, r.Step }).Select(g => new { g.Key, Count = g.Count() })
            .ToListAsync(ct)).Select(g => new CountLine(g.Key.State, g.Key.Step, g.Count))];
        Stops = await db.MailStops.CountAsync(ct);
        Show = Rules.Facts.Codes.TryParse<ReminderState>(show, out var asked) ? asked : ReminderState.Queued;
        PageNumber = Math.Clamp(number ?? 1, 1, 100_000);
        Shown = Of(Show);
        Reminders = await db.Reminders.AsNoTracking().Where(r => r.State == Show).OrderByDescending(r => r.QueuedAt).ThenBy(r => r.Id)
            .Skip((PageNumber - 1) * PageSize).Take(PageSize).ToListAsync(ct);
        Letter = WriteLetter.In(language);
        LetterText = WriteLetter.Text(Letter, program.Value.Phone, WriteLetter.StopLink(Options, "…"));
        await audit.ListAsync(Reminders.Select(r => r.InfantId).Distinct().Count(), ct);
    }

    /// <summary>A coordinator decides that a failed letter is to be tried again.</summary>
    public async Task<IActionResult> OnPostAgainAsync(Guid id, CancellationToken ct)
    {
        var now = clock.Now;
        var queued = await db.Reminders.Where(r => r.Id == id && r.State == ReminderState.Failed)
            .ExecuteUpdateAsync(s => s.SetProperty(r => r.State, ReminderState.Queued).SetProperty(r => r.NotBefore, now)
                .SetProperty(r => r.Attempts, 0).SetProperty(r => r.LastError, (string?)null), ct);
        if (queued == 0) TempData["Problem"] = "It was not in the list of failed letters any more.";
        else TempData["Done"] = "The letter is queued again.";
        return RedirectToPage(new { show = "failed" });
    }
}
