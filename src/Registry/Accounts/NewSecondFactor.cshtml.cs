using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Identity;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Records;

namespace Registry.Accounts;

/// <summary>Sets one's second factor: at the first sign-in of somebody who must have one, or later, with the password.</summary>
[AllowAnonymous, RequestSizeLimit(16 * 1024)]
public sealed class NewSecondFactorModel(
    UserManager<Person> people, SignInManager<Person> signIn, SetSecondFactor set, CheckPassword check, Sessions sessions) : PageModel
{
    [BindProperty] public string? Code { get; set; }
    [BindProperty] public string? Sealed { get; set; }
    [BindProperty] public string? Password { get; set; }

    [FromQuery]
    public string? ReturnTo { get; set; }

    public OfferedFactor? Offered { get; private set; }
    public IReadOnlyList<string>? RecoveryCodes { get; private set; }
    public string GoOn { get; private set; } = "/";
    public bool IsEntering => Entering.Of(User) is not null;
    public bool MustSet => Entering.Of(User) is { Lacks: SecondFactor.Factor };

    public async Task<IActionResult> OnGetAsync()
    {
        if (await WhoAsync() is not { } person) return LocalRedirect("/sign-in");
        Offered = set.Offer(person, null);
        return Page();
    }

    public async Task<IActionResult> OnPostAsync(CancellationToken ct)
    {
        if (await WhoAsync() is not { } person) return LocalRedirect("/sign-in");
        if (!MustSet)
        {
            var address = HttpContext.Connection.RemoteIpAddress?.ToString() ?? "";
            var checkedNow = await check.RunAsync(person.Email!, Password ?? "", address, ct);
            if (checkedNow.Person is null) return Again(person, AccountWords.NotYourPassword);
        }

        RecoveryCodes = await set.RunAsync(person, Sealed ?? "", Code ?? "", ct);
        if (RecoveryCodes is null) return Again(person, PeopleWords.WrongCode);
        await signIn.SignInAsync(person, Entering.WithSecondFactor());
        await sessions.EndOthersAsync(person.Id, ct);
        GoOn = person.GivenPasswordUntil is not null ? RequireOwnPassword.Page
            : Url.IsLocalUrl(ReturnTo) ? ReturnTo! : Permissions.HomeOf(person.Role);
        return Page();
    }

    /// <summary>Nobody who has a second factor and did not show it.</summary>
    private async Task<Person?> WhoAsync()
    {
        var id = Entering.Of(User) is { } entering ? entering.Lacks == SecondFactor.Factor ? entering.PersonId : (Guid?)null
            : Viewer.Of(User).PersonId;
        return id is { } known ? await people.FindByIdAsync(known.ToString()) : null;
    }

    private PageResult Again(Person person, string problem)
    {
        ModelState.AddModelError("", problem);
        Offered = set.Offer(person, Sealed);
        return Page();
    }
}
