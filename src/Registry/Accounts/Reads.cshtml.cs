using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Records;

namespace Registry.Accounts;

/// <summary>Who looked at one infant: its record, and the lists and exports that held it. Reading this list is itself recorded.</summary>
[Authorize(Permissions.ReadTrail), ShowsInfants]
public sealed class ReadsModel(ListReads list, AuditReads audit) : PageModel
{
    [FromRoute]
    public Guid Id { get; set; }

    public ReadsAsked Asked { get; private set; } = new(null, null, null, null);
    public ReadsPage Shown { get; private set; } = new([], null);

    public async Task<IActionResult> OnGetAsync(CancellationToken ct)
    {
        var id = new InfantId(Id);
        Asked = ReadsQuery.Read(Request.Query);
        if (await list.OfAsync(id, Asked, ct) is not { } page) return NotFound();
        Shown = page;
        await audit.OneAsync(id, ct);
        return Page();
    }
}
