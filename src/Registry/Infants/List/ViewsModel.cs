using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Ui;

namespace Registry.Infants.List;

/// <summary>A list's saved views beside its filter.</summary>
/// <param name="Path">The list's page; that of its views lies beneath it.</param>
/// <param name="Filter">The filter that is shown, as the list's address has it.</param>
/// <param name="Asked">The view that is asked for.</param>
public sealed record ViewStrip(string Path, IReadOnlyList<ShownView> Views, string Filter, Guid? Asked)
{
    /// <summary>The saved view that is asked for; when nothing at all is asked for, the one the viewer's list opens with.</summary>
    public static ShownView? Opened(IReadOnlyList<ShownView> views, Guid? asked, IQueryCollection query) =>
        asked is not null ? views.FirstOrDefault(v => v.Id == asked) : query.Count == 0 ? views.FirstOrDefault(v => v.IsDefault) : null;
}

/// <summary>The saved views of a list: saving the filter one has, renaming, sharing, discarding, and with which the list opens. No infant
/// is shown here.</summary>
[Authorize(Policy = Permissions.SeeInfants)]
public abstract class ViewsModel(KeepViews keep, SiteChoices sites, ViewedList list) : PageModel
{
    public IReadOnlyList<ShownView> Views { get; private set; } = [];

    /// <summary>The list's page.</summary>
    public abstract string ListPath { get; }

    /// <summary>The list without a filter.</summary>
    public abstract string Unfiltered { get; }

    /// <summary>What the sites of filters are called.</summary>
    protected IReadOnlyDictionary<string, string> SiteNames { get; private set; } = new Dictionary<string, string>();

    /// <summary>What a view shows, in words.</summary>
    public abstract string Describe(ShownView view);

    /// <summary>The filter of an address, written anew: codes only.</summary>
    protected abstract string Read(IQueryCollection query);

    public async Task OnGetAsync(CancellationToken ct)
    {
        Views = await keep.AllAsync(list, ct);
        if (Views.Count > 0) SiteNames = await sites.NamesByCodeAsync(ct);
    }

    /// <summary>Saves the filter in the address under a name.</summary>
    public async Task<IActionResult> OnPostAsync([FromForm] string? name, [FromForm] bool shared, CancellationToken ct)
    {
        var filter = Read(Request.Query);
        var (answer, id) = await keep.SaveAsync(list, name, filter, shared, ct);
        TempData[answer == ViewAnswer.Saved ? "Done" : "Problem"] = ViewWords.Of(answer);
        return LocalRedirect($"{ListPath}?{filter}{(id is { } view ? $"&view={view}" : "")}");
    }

    public async Task<IActionResult> OnPostRenameAsync([FromForm] Guid view, [FromForm] string? name, [FromForm] bool shared,
        CancellationToken ct) => Said(await keep.RenameAsync(list, view, name, shared, ct));

    public async Task<IActionResult> OnPostDiscardAsync([FromForm] Guid view, CancellationToken ct) =>
        Said(await keep.DiscardAsync(list, view, ct));

    public async Task<IActionResult> OnPostDefaultAsync([FromForm] Guid? view, CancellationToken ct) =>
        Said(await keep.OpenWithAsync(list, view, ct));

    private IActionResult Said(ViewAnswer answer)
    {
        if (answer == ViewAnswer.NoSuchView) return NotFound();
        TempData[answer == ViewAnswer.NoName ? "Problem" : "Done"] = ViewWords.Of(answer);
        return LocalRedirect($"{ListPath}/views");
    }
}
