using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Microsoft.AspNetCore.Mvc.Rendering;
using Registry.Access;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.Claims;

/// <summary>Which site's infants are seen where: stated by a coordinator, so that those clinics' reports need no confirmation one by
/// one.</summary>
[Authorize(Policy = Permissions.Coordinator)]
public sealed class AgreementsModel(StateAgreements agreements, SiteChoices choices, AsOf day) : PageModel
{
    [FromQuery(Name = "site")] public string? Site { get; set; }
    [BindProperty] public string? From { get; set; }
    [BindProperty] public string? To { get; set; }
    [BindProperty] public string? Covers { get; set; }
    [BindProperty] public DateOnly? FromOn { get; set; }
    [BindProperty] public DateOnly? UntilOn { get; set; }
    public IReadOnlyList<Site> Sites { get; private set; } = [];
    public IReadOnlyList<AgreementLine> Lines { get; private set; } = [];
    public IEnumerable<SelectListItem> CoverOptions => Choices.Of(ClaimWords.Of, (AgreementCovers?)AgreementCovers.Referred);
    public IEnumerable<SelectListItem> Options(string? chosen) => SiteChoices.Options(Sites.Where(s => s.Active), chosen);

    public bool Holds(CareAgreement agreement) => agreement.UntilOn is null || agreement.UntilOn > day.Today;

    public async Task OnGetAsync(CancellationToken ct)
    {
        Sites = await choices.AllAsync(ct);
        Lines = await agreements.OfAsync(Sites.FirstOrDefault(s => s.Code == Site)?.Id, ct);
    }

    public async Task<IActionResult> OnPostAsync(CancellationToken ct)
    {
        Sites = await choices.AllAsync(ct);
        var (from, to) = (Sites.FirstOrDefault(s => s.Code == From), Sites.FirstOrDefault(s => s.Code == To));
        if (from is null || to is null || from == to) return Back("Problem", ClaimWords.ChooseSites);
        var start = FromOn ?? day.Today;
        if (UntilOn <= start) return Back("Problem", ClaimWords.EndsAfterStart);
        await agreements.StateAsync(
            from.Id, to.Id, Codes.TryParse<AgreementCovers>(Covers, out var covers) ? covers : AgreementCovers.Referred, start, UntilOn,
            ct);
        return Back("Done", ClaimWords.AgreementStated);
    }

    public async Task<IActionResult> OnPostEndAsync([FromForm] Guid id, CancellationToken ct) =>
        await agreements.EndAsync(id, ct) ? Back("Done", ClaimWords.AgreementEnded) : Back("Problem", ClaimWords.NoSuchAgreement);

    private LocalRedirectResult Back(string kind, string words)
    {
        TempData[kind] = words;
        return LocalRedirect("/claims/agreements");
    }
}
