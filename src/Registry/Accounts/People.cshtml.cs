using System.ComponentModel.DataAnnotations;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Microsoft.AspNetCore.Mvc.Rendering;
using Registry.Access;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.Accounts;

/// <summary>An administrator says who works with the registry, and ends their sessions. A given password is shown once.</summary>
[Authorize(Permissions.Administrator)]
public sealed class PeopleModel(Viewer viewer, ManagePeople manage, ListSessions list, Sessions sessions, SiteChoices choices) : PageModel
{
    [BindProperty, StringLength(254)]
    [Required(ErrorMessage = AccountWords.EnterEmail), EmailAddress(ErrorMessage = AccountWords.EnterEmail)]
    public string Email { get; set; } = "";

    [BindProperty, Required(ErrorMessage = AccountWords.EnterName), StringLength(80, ErrorMessage = AccountWords.NameTooLong)]
    public string Name { get; set; } = "";

    [BindProperty, Required(ErrorMessage = AccountWords.ChooseRole)]
    public string Role { get; set; } = "";

    [BindProperty]
    public string? Site { get; set; }

    public string? Password { get; private set; }
    public IReadOnlyList<PersonLine> People { get; private set; } = [];
    public IReadOnlyList<Site> Sites { get; private set; } = [];
    public Guid Me => viewer.PersonId!.Value;

    public static IEnumerable<SelectListItem> Roles(Role? chosen) =>
        Enum.GetValues<Role>().Select(r => new SelectListItem(Words.Of(r), Codes.Of(r), r == chosen));

    public IEnumerable<SelectListItem> SiteOptions(SiteId? chosen) =>
        SiteChoices.Options(Sites, Sites.FirstOrDefault(s => s.Id == chosen)?.Code);

    public Task OnGetAsync(CancellationToken ct) => LoadAsync(ct);

    public async Task<IActionResult> OnPostAsync(CancellationToken ct)
    {
        await LoadAsync(ct);
        if (!TryPlace(out var role, out var site)) ModelState.AddModelError(nameof(Role), AccountWords.ChooseRole);
        if (!ModelState.IsValid) return Page();
        (Password, var problems) = await manage.AddAsync(Email, Name, role, site);
        foreach (var problem in problems) ModelState.AddModelError("", problem);
        await LoadAsync(ct);
        return Page();
    }

    public async Task<IActionResult> OnPostPlaceAsync([FromForm] Guid id, CancellationToken ct)
    {
        await LoadAsync(ct);
        // Nobody takes the last way to this page away, nor gives oneself the sight of infants.
        var problem = id == Me ? AccountWords.NotOneself
            : TryPlace(out var role, out var site) ? await manage.PlaceAsync(id, role, site) : AccountWords.ChooseRole;
        return Say(problem, AccountWords.Placed);
    }

    public async Task<IActionResult> OnPostDisableAsync([FromForm] Guid id, [FromForm] bool disabled, CancellationToken ct) => Say(
        id == Me ? AccountWords.NotOneself : await manage.DisableAsync(id, disabled, ct) ? null : AccountWords.NoSuchPerson,
        disabled ? AccountWords.Disabled : AccountWords.Enabled);

    public async Task<IActionResult> OnPostGiveAsync([FromForm] Guid id, CancellationToken ct)
    {
        ModelState.Clear();
        Password = await manage.GivePasswordAsync(id, ct);
        if (Password is null) ModelState.AddModelError("", AccountWords.NoSuchPerson);
        await LoadAsync(ct);
        return Page();
    }

    public async Task<IActionResult> OnPostEndAsync([FromForm] Guid id, CancellationToken ct) =>
        Say(null, AccountWords.Ended(await sessions.EndAsync(id, null, null, ct)));

    private bool TryPlace(out Role role, out SiteId? site)
    {
        site = Sites.FirstOrDefault(s => s.Code == Site)?.Id;
        return Codes.TryParse(Role, out role) && (site is not null || string.IsNullOrEmpty(Site));
    }

    private LocalRedirectResult Say(string? problem, string done)
    {
        TempData[problem is null ? "Done" : "Problem"] = problem ?? done;
        return LocalRedirect("/access/people");
    }

    private async Task LoadAsync(CancellationToken ct)
    {
        Sites = await choices.AllAsync(ct);
        People = await list.PeopleAsync(ct);
    }
}
