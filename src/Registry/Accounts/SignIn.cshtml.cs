using System.ComponentModel.DataAnnotations;
using System.Globalization;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Identity;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Records;

namespace Registry.Accounts;

/// <summary>Signs a person in. Whether the address is known is never told (<see cref="CheckPassword"/>).</summary>
[AllowAnonymous, RequestSizeLimit(LargestForm)]
public sealed class SignInModel(SignInManager<Person> signIn, CheckPassword check) : PageModel
{
    private const int LargestForm = 16 * 1024;

    [BindProperty, Required(ErrorMessage = AccountWords.EnterEmail)]
    public string Email { get; set; } = "";

    [BindProperty, Required(ErrorMessage = AccountWords.EnterPassword)]
    public string Password { get; set; } = "";

    [FromQuery]
    public string? ReturnTo { get; set; }

    public IActionResult OnGet() =>
        Viewer.Of(User) is { PersonId: not null } viewer ? LocalRedirect(Permissions.HomeOf(viewer.Role)) : Page();

    public async Task<IActionResult> OnPostAsync(CancellationToken ct)
    {
        if (!ModelState.IsValid) return Page();
        var answer = await check.RunAsync(Email, Password, HttpContext.Connection.RemoteIpAddress?.ToString() ?? "", ct);
        if (answer.Person is { } person)
        {
            await signIn.SignInAsync(person, isPersistent: false);
            if (person.TwoFactorEnabled)
                return LocalRedirect(Entering.AskPage + QueryString.Create("returnTo", Url.IsLocalUrl(ReturnTo) ? ReturnTo! : "/"));
            if (person.GivenPasswordUntil is not null) return LocalRedirect(RequireOwnPassword.Page);
            return LocalRedirect(Url.IsLocalUrl(ReturnTo) ? ReturnTo! : Permissions.HomeOf(person.Role));
        }

        if (answer.RetryAfter is { } wait)
        {
            Response.StatusCode = StatusCodes.Status429TooManyRequests;
            Response.Headers.RetryAfter = Math.Max(1, Math.Ceiling(wait.TotalSeconds)).ToString(CultureInfo.InvariantCulture);
        }

        ModelState.AddModelError("", answer.RetryAfter is null ? AccountWords.NotSignedIn : AccountWords.TooManyTries);
        return Page();
    }
}
