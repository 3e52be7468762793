using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Microsoft.EntityFrameworkCore;
using Registry.Access;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Rules;

namespace Registry.PolicyChanges;

/// <summary><c>/policy/new</c>: proposes a policy version, starting from the latest. Nothing is in force by it.</summary>
[Authorize(Permissions.Coordinator)]
public sealed class NewVersionModel(ChangePolicy change, PolicyStore policies, RegistryDb db, Viewer viewer) : PageModel
{
    public Policy Start { get; private set; } = Policy.Default;
    public PolicyForm Form { get; private set; } = PolicyForm.Of(Policy.Default);
    public DateOnly Earliest { get; private set; }
    public IReadOnlyList<string> Problems { get; private set; } = [];
    public IReadOnlyList<(PolicyDraft Draft, Policy Proposed)> Drafts { get; private set; } = [];

    /// <summary>What was entered, so that a problem costs no work; else the starting version's.</summary>
    public string Value(string name, object? stored) => Request.HasFormContentType && Request.Form.ContainsKey(name)
        ? Request.Form[name].ToString() : stored?.ToString() ?? "";

    public Task OnGetAsync(CancellationToken ct) => LoadAsync(ct);

    public async Task<IActionResult> OnPostAsync(CancellationToken ct)
    {
        await LoadAsync(ct);
        var (proposed, problems) = PolicyForm.Read(Start, Request.Form);
        Problems = proposed is null ? problems : await change.ProblemsAsync(proposed, ct);
        if (Problems.Count > 0)
        {
            Response.StatusCode = StatusCodes.Status422UnprocessableEntity;
            return Page();
        }

        var draft = await change.DraftAsync(proposed!, viewer.PersonId!.Value, ct);
        return LocalRedirect($"/policy/drafts/{draft.Id}");
    }

    private async Task LoadAsync(CancellationToken ct)
    {
        Start = (await policies.AllAsync(ct))[^1];
        Form = PolicyForm.Of(Start);
        Earliest = await change.EarliestAsync(ct);
        Drafts = [.. (await db.PolicyDrafts.AsNoTracking().OrderByDescending(d => d.DraftedAt).Take(20).ToListAsync(ct))
            .Select(d => (d, Policy.FromJson(d.Document)))];
    }
}
