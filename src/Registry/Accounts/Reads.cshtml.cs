using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Records;

namespace Registry.Accounts;

/// <summary>Who looked at one infant's record. Reading this list is itself recorded.</summary>
[Authorize(Permissions.ReadTrail), ShowsInfants]
public sealed class ReadsModel(ListReads list, AuditReads audit) : PageModel
{
    [FromRoute]
    public Guid Id { get; set; }

    public IReadOnlyList<Read> Reads { get; private set; } = [];
    public int Total { get; private set; }

    public async Task<IActionResult> OnGetAsync(CancellationToken ct)
    {
        var id = new InfantId(Id);
        if (await list.OfAsync(id, ct) is not { } reads) return NotFound();
        (Reads, Total) = reads;
        await audit.OneAsync(id, ct);
        return Page();
    }
}
