using System.ComponentModel.DataAnnotations;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Identity;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Records;

namespace Registry.Accounts;

/// <summary>A person's own way in: where one is signed in, ending that, and the password.</summary>
[Authorize(Permissions.Person)]
public sealed class OwnSignInModel(
    Viewer viewer, Sessions sessions, ListSessions list, ShowPlaces places, ChangePassword change, UserManager<Person> people,
    CheckPassword check, Passkeys passkeys) : PageModel
{
    [BindProperty, Required(ErrorMessage = AccountWords.EnterPassword)]
    public string Current { get; set; } = "";

    [BindProperty, Required(ErrorMessage = AccountWords.EnterNewPassword)]
    public string New { get; set; } = "";

    public IReadOnlyList<Session> Open { get; private set; } = [];
    public IReadOnlyList<OwnPlace> Places { get; private set; } = [];
    public bool HasSecondFactor { get; private set; }
    public IList<UserPasskeyInfo> Kept { get; private set; } = [];

    /// <summary>Asks the browser for a new passkey; nothing while the password is one that was given.</summary>
    public PasskeyOffer? Offer { get; private set; }
    public Guid? Here => Viewer.SessionOf(User);

    /// <summary>Came in with a password somebody gave: nothing else opens before it is changed.</summary>
    public bool MustChange => RequireOwnPassword.Holds(User);

    private Guid Me => viewer.PersonId!.Value;

    public Task OnGetAsync(CancellationToken ct) => LoadAsync(ct);

    public async Task<IActionResult> OnPostPasswordAsync(CancellationToken ct)
    {
        if (ModelState.IsValid)
        {
            var address = HttpContext.Connection.RemoteIpAddress?.ToString() ?? "";
            foreach (var problem in await change.RunAsync(Me, Current, New, Here, address, ct))
                ModelState.AddModelError("", problem);
        }

        if (!ModelState.IsValid)
        {
            await LoadAsync(ct);
            return Page();
        }

        TempData["Done"] = AccountWords.PasswordChanged;
        return LocalRedirect(RequireOwnPassword.Page);
    }

    /// <summary>Ends one of the own sessions, or with no id all but this one.</summary>
    public async Task<IActionResult> OnPostEndAsync([FromForm] Guid? id, CancellationToken ct)
    {
        TempData["Done"] = AccountWords.Ended(await sessions.EndAsync(Me, id, id is null ? Here : null, ct));
        return LocalRedirect(RequireOwnPassword.Page);
    }

    /// <summary>Adds a passkey: with the password, because a session left open must not be enough to keep a way in.</summary>
    public async Task<IActionResult> OnPostPasskeyAsync([FromForm] string? @sealed, [FromForm] string? answer, CancellationToken ct)
    {
        var person = await MeAsync();
        var address = HttpContext.Connection.RemoteIpAddress?.ToString() ?? "";
        var problem = MustChange || (await check.RunAsync(person.Email!, Current ?? "", address, ct)).Person is null
            ? AccountWords.NotYourPassword
            : await passkeys.AddAsync(person, @sealed ?? "", answer ?? "", HttpContext) ? null : PeopleWords.NoPasskey;
        TempData[problem is null ? "Done" : "Problem"] = problem ?? PeopleWords.PasskeyAdded;
        return LocalRedirect(RequireOwnPassword.Page);
    }

    public async Task<IActionResult> OnPostRemovePasskeyAsync([FromForm] string? key)
    {
        var done = await passkeys.RemoveAsync(await MeAsync(), key ?? "");
        TempData[done ? "Done" : "Problem"] = done ? PeopleWords.PasskeyRemoved : PeopleWords.NoPasskey;
        return LocalRedirect(RequireOwnPassword.Page);
    }

    /// <summary>Works in another of the own places; the first with no id.</summary>
    public async Task<IActionResult> OnPostWorkAsync([FromForm] Guid? place, CancellationToken ct)
    {
        var done = Here is { } session && await sessions.WorkInAsync(session, place, ct);
        TempData[done ? "Done" : "Problem"] = done ? PeopleWords.WorksThere : PeopleWords.NoSuchPlace;
        return LocalRedirect(RequireOwnPassword.Page);
    }

    private async Task LoadAsync(CancellationToken ct)
    {
        Open = await list.OfAsync(Me, ct);
        (HasSecondFactor, Places) = await places.OfAsync(Me, Here, ct);
        var person = await MeAsync();
        Kept = await people.GetPasskeysAsync(person);
        if (!MustChange) Offer = await passkeys.OfferNewAsync(person, HttpContext);
    }

    private async Task<Person> MeAsync() => (await people.FindByIdAsync(Me.ToString()))!;
}
