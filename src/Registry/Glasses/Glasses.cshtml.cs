using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Platform;
using Registry.PolicyVersions;

namespace Registry.Glasses;

/// <summary>Where a record is opened by breaking the glass, and where those that were are seen: one's own, a coordinator everybody's.
/// </summary>
[Authorize(Permissions.SeeInfants), ShowsInfants]
public sealed class GlassesModel(
    BreakGlass breakGlass, ListGlasses list, PolicyStore policies, ProgramClock days, AuditReads audit, Viewer viewer) : PageModel
{
    [BindProperty]
    public GlassForm Form { get; set; } = new();

    public IReadOnlyList<GlassLine> Lines { get; private set; } = [];
    public IReadOnlyList<GuessingPerson> Guessing { get; private set; } = [];
    public int Hours { get; private set; }
    public bool IsCoordinator => viewer.IsCoordinator;
    public bool MayBreak => Permissions.Holds(User, Permissions.BreakGlass);

    public async Task<IActionResult> OnGetAsync(CancellationToken ct) => await ShowAsync(ct);

    public async Task<IActionResult> OnPostAsync(CancellationToken ct)
    {
        if (!MayBreak) return Forbid();
        var (answer, infant) = ModelState.IsValid ? await breakGlass.RunAsync(Form, ct) : (GlassAnswer.NotFilledIn, null);
        if (infant is { } opened)
        {
            TempData["Done"] = GlassWords.Opened((await policies.InForceAsync(days.Today, ct)).GlassHours);
            return LocalRedirect($"/infants/{opened}");
        }

        ModelState.Clear();
        ModelState.AddModelError("", answer == GlassAnswer.NotFilledIn ? GlassWords.FillIn : GlassWords.NothingOpened);
        return await ShowAsync(ct);
    }

    public async Task<IActionResult> OnPostCloseAsync([FromForm] Guid id, CancellationToken ct)
    {
        var closed = await list.CloseAsync(id, ct);
        TempData[closed ? "Done" : "Problem"] = closed ? GlassWords.Closed : GlassWords.NotClosed;
        return LocalRedirect("/glasses");
    }

    private async Task<IActionResult> ShowAsync(CancellationToken ct)
    {
        if (!MayBreak && !IsCoordinator) return Forbid();
        var policy = await policies.InForceAsync(days.Today, ct);
        Hours = policy.GlassHours;
        Lines = await list.AllAsync(ct);
        Guessing = await list.GuessingAsync(policy.GlassTries, ct);
        await audit.ListAsync(Lines.Select(l => l.Glass.InfantId), ct);
        return Page();
    }
}
