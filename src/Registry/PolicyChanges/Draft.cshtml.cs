using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;

namespace Registry.PolicyChanges;

/// <summary><c>/policy/drafts/{id}</c>: what a drafted version changes, choice by choice and infant by infant; put in force or taken
/// back.</summary>
[Authorize(Permissions.Coordinator)]
public sealed class DraftModel(ShowDraft drafts, ChangePolicy change, Viewer viewer) : PageModel
{
    public ShownDraft Shown { get; private set; } = null!;

    public async Task<IActionResult> OnGetAsync(Guid id, CancellationToken ct)
    {
        if (await drafts.OneAsync(id, ct) is not { } shown) return NotFound();
        Shown = shown;
        return Page();
    }

    /// <summary>Progress, in the words the page's script reads.</summary>
    public async Task<IActionResult> OnGetStatusAsync(Guid id, CancellationToken ct) =>
        await drafts.OneAsync(id, ct) is { } shown
            ? new JsonResult(new
            {
                state = shown.Counts is null ? "counting" : "done",
                rows = shown.Draft.Infants ?? 0,
                rowsDone = shown.Draft.Counted,
            })
            : NotFound();

    public async Task<IActionResult> OnPostScheduleAsync(Guid id, CancellationToken ct) =>
        Said(id, await change.ScheduleAsync(id, viewer.PersonId!.Value, ct));

    public async Task<IActionResult> OnPostTakeBackAsync(Guid id, CancellationToken ct) =>
        Said(id, await change.TakeBackAsync(id, viewer.PersonId!.Value, ct));

    private IActionResult Said(Guid id, DraftAnswer answer)
    {
        if (answer.Outcome == DraftOutcome.NoSuchDraft) return NotFound();
        TempData[answer.IsDone ? "Done" : "Problem"] = PolicyWords.Of(answer);
        return LocalRedirect($"/policy/drafts/{id}");
    }
}
