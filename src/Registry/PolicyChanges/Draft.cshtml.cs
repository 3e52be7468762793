using System.Text.Json;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Microsoft.EntityFrameworkCore;
using Registry.Access;
using Registry.Platform;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Rules;
using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.PolicyChanges;

/// <summary><c>/policy/drafts/{id}</c>: what a drafted version changes, choice by choice and infant by infant; put in force or taken
/// back.</summary>
[Authorize(Permissions.Coordinator)]
public sealed class DraftModel(ChangePolicy change, PolicyStore policies, RegistryDb db, ProgramClock clock, Viewer viewer) : PageModel
{
    public PolicyDraft Draft { get; private set; } = null!;
    public Policy Proposed { get; private set; } = Policy.Default;
    public Policy Current { get; private set; } = Policy.Default;
    public ChangeCounts? Counts { get; private set; }

    /// <summary>Choices that differ: title, now, proposed.</summary>
    public IReadOnlyList<(string Title, string Now, string Then)> Differences { get; private set; } = [];

    public bool MayTakeBack => Draft.Decision is null
        || (Draft.Decision == DraftDecision.Scheduled && Proposed.EffectiveFrom > clock.Today);

    public async Task<IActionResult> OnGetAsync(Guid id, CancellationToken ct) => await LoadAsync(id, ct) ? Page() : NotFound();

    /// <summary>Progress, in the words the page's script reads.</summary>
    public async Task<IActionResult> OnGetStatusAsync(Guid id, CancellationToken ct) =>
        await LoadAsync(id, ct)
            ? new JsonResult(new { state = Counts is null ? "counting" : "done", rows = Draft.Infants ?? 0, rowsDone = Draft.Counted })
            : NotFound();

    public Task<IActionResult> OnPostScheduleAsync(Guid id, CancellationToken ct) =>
        DecideAsync(id, change.ScheduleAsync, $"The version is in force from its first day. Until then it can be withdrawn.", ct);

    public Task<IActionResult> OnPostTakeBackAsync(Guid id, CancellationToken ct) =>
        DecideAsync(id, change.TakeBackAsync, "Taken back. Nothing changes by this draft; it stays readable.", ct);

    public static string Of(StatusAspect aspect, string code) => code.Length == 0 ? "nothing" : aspect switch
    {
        StatusAspect.Screening => Words.Of(Codes.Parse<ScreeningConclusion>(code)),
        StatusAspect.Screened or StatusAspect.Diagnosed or StatusAspect.Enrolled => Words.Of(Codes.Parse<MilestoneState>(code)),
        StatusAspect.Hearing => Words.Of(Codes.Parse<HearingConclusion>(code)),
        StatusAspect.Loss => Words.Of(Codes.Parse<LossState>(code)),
        _ => Words.Of(Codes.Parse<DueStep>(code)),
    };

    private async Task<IActionResult> DecideAsync(
        Guid id, Func<PolicyDraft, Guid, CancellationToken, Task<string?>> decide, string done, CancellationToken ct)
    {
        if (!await LoadAsync(id, ct)) return NotFound();
        var problem = await decide(Draft, viewer.PersonId!.Value, ct);
        TempData[problem is null ? "Done" : "Problem"] = problem ?? done;
        return LocalRedirect($"/policy/drafts/{id}");
    }

    private async Task<bool> LoadAsync(Guid id, CancellationToken ct)
    {
        if (await db.PolicyDrafts.FirstOrDefaultAsync(d => d.Id == id, ct) is not { } draft) return false;
        Draft = draft;
        Proposed = Policy.FromJson(draft.Document);
        Current = (await policies.AllAsync(ct)).First(p => p.Version == draft.ComparedWith);
        Counts = draft.Changes is null ? null : JsonSerializer.Deserialize<ChangeCounts>(draft.Changes, JsonSerializerOptions.Web);
        Differences =
        [
            .. Current.Choices().Zip(Proposed.Choices()).Where(c => c.First.Value != c.Second.Value)
                .Select(c => (c.First.Title, c.First.Value, c.Second.Value)),
            .. Current.Surveillance.Zip(Proposed.Surveillance).Where(t => t.First != t.Second)
                .Select(t => ($"Surveillance: {Words.Of((Enum)t.First.Kind).ToLowerInvariant()}", t.First.ToString(), t.Second.ToString())),
        ];
        return true;
    }
}
