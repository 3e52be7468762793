using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.PolicyVersions;
using Registry.Rules;

namespace Registry.PolicyChanges;

/// <summary><c>/policy/new</c>: proposes a policy version, starting from the latest. Nothing is in force by it.</summary>
[Authorize(Permissions.Coordinator)]
public sealed class NewVersionModel(ChangePolicy change, ShowDraft drafts, PolicyStore policies, Viewer viewer) : PageModel
{
    public Policy Start { get; private set; } = Policy.Default;
    public PolicyForm Form { get; private set; } = PolicyForm.Of(Policy.Default);
    public DateOnly Earliest { get; private set; }
    public IReadOnlyList<VersionProblem> Problems { get; private set; } = [];
    public IReadOnlyList<(PolicyDraft Draft, Policy Proposed)> Drafts { get; private set; } = [];

    /// <summary>What was entered, so that a problem costs no work; else the starting version's.</summary>
    public string Value(string name, object? stored) => Request.HasFormContentType && Request.Form.ContainsKey(name)
        ? Request.Form[name].ToString() : stored?.ToString() ?? "";

    public async Task OnGetAsync(CancellationToken ct)
    {
        Start = (await policies.AllAsync(ct))[^1];
        Form = PolicyForm.Of(Start);
        Earliest = await change.EarliestAsync(ct);
        Drafts = await drafts.LatestAsync(ct);
    }

    public async Task<IActionResult> OnPostAsync(CancellationToken ct)
    {
        var (draft, problems) = await change.ProposeAsync(
            Request.HasFormContentType ? Request.Form : FormCollection.Empty, viewer.PersonId!.Value, ct);
        if (draft is not null) return LocalRedirect($"/policy/drafts/{draft.Id}");
        Problems = problems;
        Response.StatusCode = StatusCodes.Status422UnprocessableEntity;
        await OnGetAsync(ct);
        return Page();
    }
}
