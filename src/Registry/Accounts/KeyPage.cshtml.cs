using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Access.Tokens;
using Registry.Platform;
using Registry.Records;
using Registry.Ui;

namespace Registry.Accounts;

/// <summary>One key of a site's system: by what it proves itself, and the certificates it must show besides.</summary>
[Authorize(Permissions.Administrator)]
public sealed class KeyPageModel(SiteKeys keys, SiteChoices choices, ProgramClock clock, AccessSettings settings) : PageModel
{
    [FromRoute]
    public Guid Id { get; set; }

    [BindProperty]
    public string? PublicKeys { get; set; }

    /// <summary>Fingerprints, one a line.</summary>
    [BindProperty]
    public string? Certificates { get; set; }

    public SiteKey? Key { get; private set; }
    public string Site { get; private set; } = "";
    public string TokenUrl => IssueToken.UrlOf(Request);
    public string FhirUrl => $"{Request.Scheme}://{Request.Host}/fhir";
    public bool AsksForCertificates => settings.ClientCertificates != CertificateSource.None;
    public DateOnly NextUntil => clock.Today.AddYears(1);

    public async Task<IActionResult> OnGetAsync(CancellationToken ct)
    {
        if (!await LoadAsync(ct)) return NotFound();
        PublicKeys = Key!.PublicKeys;
        Certificates = string.Join('\n', Key.Certificates);
        return Page();
    }

    public async Task<IActionResult> OnPostPublicKeysAsync(CancellationToken ct)
    {
        var (kept, problem) = PublicKeySet.Read(PublicKeys ?? "");
        if (kept is null) return await AgainAsync(nameof(PublicKeys), problem!, ct);
        return Say(await keys.ChangePublicKeysAsync(Id, kept, clock.EndOf(NextUntil), ct), AccountWords.PublicKeysChanged);
    }

    public async Task<IActionResult> OnPostCertificatesAsync(CancellationToken ct)
    {
        var pins = (Certificates ?? "").Split('\n', StringSplitOptions.TrimEntries | StringSplitOptions.RemoveEmptyEntries);
        if (!pins.All(CertificatePins.IsFingerprint)) return await AgainAsync(nameof(Certificates), AccountWords.NoFingerprint, ct);
        return Say(await keys.PinAsync(Id, pins, ct),
            pins.Length > 0 ? AccountWords.CertificatesDemanded : AccountWords.CertificatesNotDemanded);
    }

    private async Task<IActionResult> AgainAsync(string field, string problem, CancellationToken ct)
    {
        if (!await LoadAsync(ct)) return NotFound();
        ModelState.AddModelError(field, problem);
        return Page();
    }

    private LocalRedirectResult Say(bool done, string words)
    {
        TempData[done ? "Done" : "Problem"] = done ? words : AccountWords.NoSuchKey;
        return LocalRedirect($"/access/keys/{Id}");
    }

    private async Task<bool> LoadAsync(CancellationToken ct)
    {
        Key = await keys.FindAsync(Id, ct);
        if (Key is null) return false;
        Site = (await choices.AllAsync(ct)).Single(s => s.Id == Key.SiteId).Name;
        return true;
    }
}
