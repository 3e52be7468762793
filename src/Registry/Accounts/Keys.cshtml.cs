using System.ComponentModel.DataAnnotations;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Microsoft.AspNetCore.Mvc.Rendering;
using Registry.Access;
using Registry.Access.Tokens;
using Registry.Platform;
using Registry.Records;
using Registry.Ui;

namespace Registry.Accounts;

/// <summary>An administrator issues and revokes the keys of sites' systems. A secret is shown once, on the answer to the form
/// that asked for it, and never again; a system that signs has none, and leads on to its own page.</summary>
[Authorize(Permissions.Administrator)]
public sealed class KeysModel(SiteKeys keys, SiteChoices choices, ProgramClock clock, ILogger<KeysModel> log) : PageModel
{
    [BindProperty, Required(ErrorMessage = AccountWords.ChooseSite)]
    public string Site { get; set; } = "";

    [BindProperty, Required(ErrorMessage = AccountWords.NameSystem), StringLength(80, ErrorMessage = AccountWords.NameTooLong)]
    public string Name { get; set; } = "";

    /// <summary>Of a system that signs; empty: it is given a secret.</summary>
    [BindProperty]
    public string? PublicKeys { get; set; }

    /// <summary>What it opens.</summary>
    [BindProperty]
    public KeyScope Scope { get; set; } = KeyScope.Send;

    /// <summary>The last day it opens anything.</summary>
    [BindProperty, Required(ErrorMessage = AccountWords.EndsOn)]
    public DateOnly? Until { get; set; }

    public DateOnly DefaultUntil => clock.Today.AddYears(1);
    public string? Secret { get; private set; }

    /// <summary>The new key sends rows.</summary>
    public bool Sends { get; private set; }
    public IReadOnlyList<SiteKey> Keys { get; private set; } = [];
    public IReadOnlyDictionary<SiteId, Site> Sites { get; private set; } = new Dictionary<SiteId, Site>();
    public IEnumerable<SelectListItem> Options => SiteChoices.Options(Open, Site);

    public string StateOf(SiteKey key) => !Sites[key.SiteId].Active ? AccountWords.SiteClosed
        : key.ExpiresAt is { } end && end <= clock.Now ? AccountWords.RunOut : key.ReplacedBy is not null ? AccountWords.Replaced : "";

    /// <summary>What a person at the site's system types to send a file with the key.</summary>
    public string Command(string secret, string file, string query) =>
        $"curl --fail-with-body -H 'Authorization: Bearer {secret}' -H 'Content-Type: text/csv' --data-binary @{file} "
        + $"'{Request.Scheme}://{Request.Host}/api/v1/submissions{query}'";

    private const int MostYears = 3;

    /// <summary>The sites a key can be issued to.</summary>
    private IEnumerable<Site> Open => Sites.Values.Where(s => s.Active).OrderBy(s => s.Name, StringComparer.Ordinal);

    public Task OnGetAsync(CancellationToken ct) => LoadAsync(ct);

    public async Task<IActionResult> OnPostAsync(CancellationToken ct)
    {
        await LoadAsync(ct);
        var site = Open.SingleOrDefault(s => s.Code == Site);
        if (site is null && !string.IsNullOrEmpty(Site)) ModelState.AddModelError(nameof(Site), AccountWords.NoSuchSite);
        if (Until is { } day && (day <= clock.Today || day > clock.Today.AddYears(MostYears)))
            ModelState.AddModelError(nameof(Until), AccountWords.EndsOn);
        var (publicKeys, problem) = string.IsNullOrWhiteSpace(PublicKeys) ? (null, null) : PublicKeySet.Read(PublicKeys);
        if (problem is not null) ModelState.AddModelError(nameof(PublicKeys), problem);
        if (!ModelState.IsValid || site is null || Until is not { } until) return Page();
        if (publicKeys is not null)
        {
            var system = await keys.RegisterAsync(site.Id, Name, Scope, clock.EndOf(until), publicKeys, ct);
            log.LogInformation("Person {PersonId} registered system {SiteKeyId}", Viewer.Of(User).PersonId, system.Id);
            return LocalRedirect($"/access/keys/{system.Id}");
        }

        (var key, Secret) = await keys.IssueAsync(site.Id, Name, Scope, clock.EndOf(until), ct);
        Sends = Scope != KeyScope.Read;
        log.LogInformation("Person {PersonId} issued site key {SiteKeyId}", Viewer.Of(User).PersonId, key.Id);
        await LoadAsync(ct);
        return Page();
    }

    public async Task<IActionResult> OnPostRevokeAsync([FromForm] Guid id, CancellationToken ct)
    {
        var done = await keys.RevokeAsync(id, ct);
        if (done) log.LogInformation("Person {PersonId} revoked site key {SiteKeyId}", Viewer.Of(User).PersonId, id);
        TempData[done ? "Done" : "Problem"] = done ? AccountWords.KeyRevoked : AccountWords.NoSuchKey;
        return LocalRedirect("/access/keys");
    }

    /// <summary>A new key for the same system; the old one opens for two weeks more.</summary>
    public async Task<IActionResult> OnPostReplaceAsync([FromForm] Guid id, CancellationToken ct)
    {
        ModelState.Clear();
        if (await keys.RotateAsync(id, clock.EndOf(DefaultUntil), ct) is not { } made)
        {
            TempData["Problem"] = AccountWords.KeyNotReplaced;
            return LocalRedirect("/access/keys");
        }

        (Secret, Sends) = (made.Secret, made.Key.Scope != KeyScope.Read);
        log.LogInformation("Person {PersonId} replaced site key {SiteKeyId}", Viewer.Of(User).PersonId, id);
        await LoadAsync(ct);
        return Page();
    }

    private async Task LoadAsync(CancellationToken ct)
    {
        Sites = (await choices.AllAsync(ct)).ToDictionary(s => s.Id);
        Keys = await keys.AllAsync(ct);
    }
}
