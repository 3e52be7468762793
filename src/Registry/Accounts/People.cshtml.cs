using System.ComponentModel.DataAnnotations;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Microsoft.AspNetCore.Mvc.Rendering;
using Registry.Access;
using Registry.Platform.Csv;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.Accounts;

/// <summary>The counties a case worker may be given, and those chosen.</summary>
public sealed record CountyChoices(IReadOnlyList<string> All, IReadOnlyList<string> Chosen);

/// <summary>Who works with the registry; an administrator invites them here, and changes them on their own page.</summary>
[Authorize(Permissions.Administrator)]
public sealed class PeopleModel(Viewer viewer, InvitePeople invite, ListSessions list, SiteChoices choices) : PageModel
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

    [BindProperty]
    public string[] Counties { get; set; } = [];

    public MadeLink? Made { get; private set; }
    public IReadOnlyList<PersonLine> People { get; private set; } = [];
    public IReadOnlyList<Site> Sites { get; private set; } = [];
    public Guid Me => viewer.PersonId!.Value;
    public IReadOnlyList<string> AllCounties { get; private set; } = [];
    public IEnumerable<SelectListItem> SiteOptions => SiteChoices.Options(Sites, Site);

    public static IEnumerable<SelectListItem> Roles(Role? chosen) =>
        Enum.GetValues<Role>().Select(r => new SelectListItem(Words.Of(r), Codes.Of(r), r == chosen));

    public Task OnGetAsync(CancellationToken ct) => LoadAsync(ct);

    /// <summary>The same list as a file that can be read in again, here or elsewhere: a row for each role of somebody.</summary>
    public async Task<IActionResult> OnGetCsvAsync(CancellationToken ct)
    {
        await LoadAsync(ct);
        var codes = Sites.ToDictionary(s => s.Id, s => s.Code);
        return new CsvResult("people.csv", ReadPeopleFile.Columns, People.Where(p => p.Person.DisabledAt is null).ToAsyncEnumerable()
            .SelectMany(p => p.Places.Select(w => (w.Role, w.SiteId, w.Counties))
                .Prepend((p.Person.Role, p.Person.SiteId, p.Person.Counties)).Select(w => new object?[]
                {
                    p.Person.Email, p.Person.DisplayName, new PlainCell(Codes.Of(w.Role)),
                    w.SiteId is { } site ? codes.GetValueOrDefault(site) : "", string.Join(';', w.Counties),
                })));
    }

    public async Task<IActionResult> OnPostAsync(CancellationToken ct)
    {
        await LoadAsync(ct);
        var site = Sites.FirstOrDefault(s => s.Code == Site);
        if (!Codes.TryParse<Role>(Role, out var role) || (site is null && !string.IsNullOrEmpty(Site)))
            ModelState.AddModelError(nameof(Role), AccountWords.ChooseRole);
        if (!ModelState.IsValid) return Page();
        (Made, var problems) = await invite.RunAsync(
            Email, Name, new(role, site?.Id, [.. AllCounties.Intersect(Counties)]), Me, $"{Request.Scheme}://{Request.Host}", ct);
        foreach (var problem in problems) ModelState.AddModelError("", problem);
        await LoadAsync(ct);
        return Page();
    }

    private async Task LoadAsync(CancellationToken ct)
    {
        Sites = await choices.AllAsync(ct);
        AllCounties = await choices.CountiesAsync(ct);
        People = await list.PeopleAsync(ct);
    }
}
