using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.Filters;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Microsoft.AspNetCore.Mvc.Rendering;
using Registry.Access;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.Accounts;

/// <summary>One person: what they are, whether they get in, and what changed. Nobody changes oneself here.</summary>
[Authorize(Permissions.Administrator)]
public sealed class PersonPageModel(
    Viewer viewer, ManagePeople manage, InvitePeople invite, ShowPerson show, Sessions sessions, SiteChoices choices) : PageModel
{
    [FromRoute]
    public Guid Id { get; set; }

    public PersonShown? Shown { get; private set; }
    public MadeLink? Made { get; private set; }
    public IReadOnlyList<Site> Sites { get; private set; } = [];
    public IReadOnlyList<string> AllCounties { get; private set; } = [];
    public Guid Me => viewer.PersonId!.Value;

    public IEnumerable<SelectListItem> SiteOptions(SiteId? chosen) =>
        SiteChoices.Options(Sites, Sites.FirstOrDefault(s => s.Id == chosen)?.Code);

    public string SiteName(SiteId? id) => id is null ? "the program" : Sites.FirstOrDefault(s => s.Id == id)?.Name ?? "";

    /// <summary>No last way to this page is taken away by whoever holds it, and nobody gives oneself the sight of infants.</summary>
    public override async Task OnPageHandlerExecutionAsync(PageHandlerExecutingContext context, PageHandlerExecutionDelegate next)
    {
        if (HttpMethods.IsPost(Request.Method) && Id == Me) context.Result = Say(AccountWords.NotOneself, "");
        else await next();
    }

    public async Task<IActionResult> OnGetAsync(CancellationToken ct) => await LoadAsync(ct) ? Page() : NotFound();

    public async Task<IActionResult> OnPostPlaceAsync(
        [FromForm] string? role, [FromForm] string? site, [FromForm] string[] counties, CancellationToken ct) =>
        Say(await ReadAsync(role, site, counties, ct) is { } asked ? await manage.PlaceAsync(Id, asked) : AccountWords.ChooseRole,
            AccountWords.Placed);

    public async Task<IActionResult> OnPostAddAsync(
        [FromForm] string? role, [FromForm] string? site, [FromForm] string[] counties, CancellationToken ct) =>
        Say(await ReadAsync(role, site, counties, ct) is { } asked ? await manage.AddPlaceAsync(Id, asked, ct) : AccountWords.ChooseRole,
            PeopleWords.PlaceAdded);

    public async Task<IActionResult> OnPostRemoveAsync([FromForm] Guid place, CancellationToken ct) =>
        Say(await manage.RemovePlaceAsync(Id, place, ct) ? null : PeopleWords.NoSuchPlace, PeopleWords.PlaceRemoved);

    public async Task<IActionResult> OnPostDisableAsync([FromForm] bool disabled, CancellationToken ct) =>
        Say(await manage.DisableAsync(Id, disabled, ct) ? null : AccountWords.NoSuchPerson,
            disabled ? AccountWords.Disabled : AccountWords.Enabled);

    public async Task<IActionResult> OnPostFactorAsync(CancellationToken ct) =>
        Say(await manage.TakeSecondFactorAsync(Id, ct) ? null : PeopleWords.NoFactor, PeopleWords.FactorTaken);

    public async Task<IActionResult> OnPostEndAsync(CancellationToken ct) =>
        Say(null, AccountWords.Ended(await sessions.EndAsync(Id, null, null, ct)));

    public async Task<IActionResult> OnPostAskAsync(CancellationToken ct)
    {
        if (await manage.AskForPasswordAsync(Id, Me, ct) is not { } asked) return NotFound();
        Made = await invite.SendAsync(asked.Person, asked.Token, $"{Request.Scheme}://{Request.Host}", ct);
        await LoadAsync(ct);
        return Page();
    }

    public async Task<IActionResult> OnPostTakeBackAsync([FromForm] long change, CancellationToken ct)
    {
        var kept = (await show.ChangesAsync(Id, ct)).FirstOrDefault(c => c.Id == change);
        return Say(kept is not null && await manage.TakeBackAsync(kept, ct) ? null : PeopleWords.NothingToTakeBack, PeopleWords.TakenBack);
    }

    private async Task<Placing?> ReadAsync(string? role, string? site, string[] counties, CancellationToken ct)
    {
        var found = (await choices.AllAsync(ct)).FirstOrDefault(s => s.Code == site);
        return Codes.TryParse<Role>(role, out var known) && (found is not null || string.IsNullOrEmpty(site))
            ? new(known, found?.Id, [.. (await choices.CountiesAsync(ct)).Intersect(counties)]) : null;
    }

    private LocalRedirectResult Say(string? problem, string done)
    {
        TempData[problem is null ? "Done" : "Problem"] = problem ?? done;
        return LocalRedirect($"/access/people/{Id}");
    }

    private async Task<bool> LoadAsync(CancellationToken ct)
    {
        Sites = await choices.AllAsync(ct);
        AllCounties = await choices.CountiesAsync(ct);
        return (Shown = await show.RunAsync(Id, ct)) is not null;
    }
}
