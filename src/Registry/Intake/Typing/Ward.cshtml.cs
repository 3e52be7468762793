using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;

namespace Registry.Intake.Typing;

/// <summary>A screener's home: whom the site still has to screen, and the way to enter a result.</summary>
[Authorize(Policy = Permissions.SubmitForSite), ShowsInfants]
public sealed class WardModel(ListWard list, AuditReads audit, Viewer viewer) : PageModel
{
    public IReadOnlyList<WardRow> Rows { get; private set; } = [];

    public async Task OnGetAsync(CancellationToken ct)
    {
        Rows = await list.OfAsync(viewer, ct);
        await audit.ListAsync(Rows.Select(r => r.Id), ct);
    }
}
