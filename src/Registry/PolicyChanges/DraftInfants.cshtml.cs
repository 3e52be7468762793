using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Rules;
using Registry.Rules.Facts;

namespace Registry.PolicyChanges;

/// <summary><c>/policy/drafts/{id}/infants</c>: the infants behind one number of a draft, found by counting again.</summary>
[ShowsInfants, Authorize(Permissions.Coordinator)]
public sealed class DraftInfantsModel(ListChangedInfants infants) : PageModel
{
    public Guid Id { get; private set; }
    public ChangedInfants Listed { get; private set; } = null!;

    public async Task<IActionResult> OnGetAsync(Guid id, string? aspect, string? from, string? to, int start, CancellationToken ct)
    {
        StatusAspect changed = default;
        if (aspect is not null && !Codes.TryParse(aspect, out changed)) return BadRequest();
        StatusChange? change = aspect is null ? null : new(changed, from ?? "", to ?? "");
        if (await infants.PageAsync(id, change, Math.Max(0, start), ct) is not { } listed) return NotFound();
        (Id, Listed) = (id, listed);
        return Page();
    }
}
