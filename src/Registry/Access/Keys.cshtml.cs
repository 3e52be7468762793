using System.ComponentModel.DataAnnotations;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Microsoft.AspNetCore.Mvc.Rendering;
using Microsoft.EntityFrameworkCore;
using Registry.Records;

namespace Registry.Access;

/// <summary>A coordinator issues and revokes the keys of sites' systems. A key is shown once, on the answer to the form
/// that asked for it, and never again.</summary>
[Authorize(Permissions.Coordinator)]
public sealed class KeysModel(RegistryDb db, SiteKeys keys, ILogger<KeysModel> log) : PageModel
{
    [BindProperty, Required(ErrorMessage = "Choose the site.")]
    public string Site { get; set; } = "";

    [BindProperty, Required(ErrorMessage = "Name the system that will use the key."),
        StringLength(80, ErrorMessage = "At most 80 characters.")]
    public string Name { get; set; } = "";

    public string? Secret { get; private set; }
    public IReadOnlyList<SiteKey> Keys { get; private set; } = [];
    public IReadOnlyDictionary<SiteId, Site> Sites { get; private set; } = new Dictionary<SiteId, Site>();
    public IEnumerable<SelectListItem> Options =>
        Sites.Values.Where(s => s.Active).OrderBy(s => s.Name, StringComparer.Ordinal)
            .Select(s => new SelectListItem(s.Name, s.Code, s.Code == Site));

    public Task OnGetAsync(CancellationToken ct) => LoadAsync(ct);

    public async Task<IActionResult> OnPostAsync(CancellationToken ct)
    {
        await LoadAsync(ct);
        var site = Sites.Values.SingleOrDefault(s => s.Code == Site && s.Active);
        if (site is null && !string.IsNullOrEmpty(Site)) ModelState.AddModelError(nameof(Site), "There is no such site.");
        if (!ModelState.IsValid || site is null) return Page();
        (var key, Secret) = await keys.IssueAsync(site.Id, Name, ct);
        log.LogInformation("Person {PersonId} issued site key {SiteKeyId}", Viewer.Of(User).PersonId, key.Id);
        await LoadAsync(ct);
        return Page();
    }

    public async Task<IActionResult> OnPostRevokeAsync([FromForm] Guid id, CancellationToken ct)
    {
        var done = await keys.RevokeAsync(id, ct);
        if (done) log.LogInformation("Person {PersonId} revoked site key {SiteKeyId}", Viewer.Of(User).PersonId, id);
        TempData[done ? "Done" : "Problem"] = done ? "The key is revoked. It is refused from now on."
            : "There is no such key, or it was revoked before.";
        return LocalRedirect("/access/keys");
    }

    private async Task LoadAsync(CancellationToken ct)
    {
        Sites = await db.Sites.AsNoTracking().ToDictionaryAsync(s => s.Id, ct);
        Keys = await db.SiteKeys.AsNoTracking().OrderBy(k => k.RevokedAt != null).ThenByDescending(k => k.CreatedAt).ToListAsync(ct);
    }
}
