using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;

namespace Registry.FollowUp;

/// <summary>The saved views of the work list: saving the filter one has, renaming, sharing, discarding, and with which the list opens. No
/// infant is shown here.</summary>
[Authorize(Policy = Permissions.SeeInfants)]
public sealed class ViewsModel(KeepViews keep) : PageModel
{
    public IReadOnlyList<ShownView> Views { get; private set; } = [];

    public async Task OnGetAsync(CancellationToken ct) => Views = await keep.AllAsync(ct);

    /// <summary>Saves the filter in the address under a name.</summary>
    public async Task<IActionResult> OnPostAsync([FromForm] string? name, [FromForm] bool shared, CancellationToken ct)
    {
        var filter = WorkFilter.Read(Request.Query);
        var (answer, id) = await keep.SaveAsync(name, filter, shared, ct);
        TempData[answer == ViewAnswer.Saved ? "Done" : "Problem"] = ViewWords.Of(answer);
        return LocalRedirect($"/follow-up?{filter.ToQuery()}{(id is { } view ? $"&view={view}" : "")}");
    }

    public async Task<IActionResult> OnPostRenameAsync([FromForm] Guid view, [FromForm] string? name, [FromForm] bool shared,
        CancellationToken ct) => Said(await keep.RenameAsync(view, name, shared, ct));

    public async Task<IActionResult> OnPostDiscardAsync([FromForm] Guid view, CancellationToken ct) =>
        Said(await keep.DiscardAsync(view, ct));

    public async Task<IActionResult> OnPostDefaultAsync([FromForm] Guid? view, CancellationToken ct) =>
        Said(await keep.OpenWithAsync(view, ct));

    private IActionResult Said(ViewAnswer answer)
    {
        if (answer == ViewAnswer.NoSuchView) return NotFound();
        TempData[answer == ViewAnswer.NoName ? "Problem" : "Done"] = ViewWords.Of(answer);
        return LocalRedirect("/follow-up/views");
    }
}
