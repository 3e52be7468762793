using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Platform;
using Registry.PolicyVersions;

namespace Registry.SetUp;

/// <summary>Chooses the published policy a registry starts from.</summary>
[Authorize(Permissions.Administrator)]
public sealed class FirstPolicyModel(ChooseFirstPolicy choose, PolicyStore policies, ShowProgress progress, ProgramClock clock) : PageModel
{
    public bool Open { get; private set; }
    public string InForce { get; private set; } = "";

    public async Task OnGetAsync(CancellationToken ct)
    {
        Open = await choose.IsOpenAsync(ct);
        InForce = (await policies.InForceAsync(clock.Today, ct)).Version;
    }

    public async Task<IActionResult> OnPostAsync([FromForm] string? version, CancellationToken ct)
    {
        if (await choose.RunAsync(version ?? "", ct) is { } problem)
        {
            await OnGetAsync(ct);
            ModelState.AddModelError("", problem);
            return Page();
        }

        TempData["Done"] = SetUpWords.PolicySaved;
        return LocalRedirect(await progress.NextAsync(ct) ?? "/setup");
    }
}
