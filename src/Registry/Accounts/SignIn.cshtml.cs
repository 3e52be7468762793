using System.ComponentModel.DataAnnotations;
using System.Globalization;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Identity;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Accounts;

/// <summary>Signs a person in. Whether the address is known is never told (<see cref="CheckPassword"/>).</summary>
[AllowAnonymous, RequestSizeLimit(LargestForm)]
public sealed class SignInModel(
    SignInManager<Person> signIn, CheckPassword check, Passkeys passkeys, OpenIdSettings openId) : PageModel
{
    private const int LargestForm = 64 * 1024;

    [BindProperty, Required(ErrorMessage = AccountWords.EnterEmail)]
    public string Email { get; set; } = "";

    [BindProperty, Required(ErrorMessage = AccountWords.EnterPassword)]
    public string Password { get; set; } = "";

    [FromQuery]
    public string? ReturnTo { get; set; }

    /// <summary>Why the OpenID provider's answer did not let somebody in.</summary>
    [FromQuery]
    public string? Refused { get; set; }

    /// <summary>What the provider is called; null: there is none.</summary>
    public string? OpenIdName => openId.IsOn ? openId.Name : null;

    public PasskeyOffer? Passkey { get; private set; }

    public async Task<IActionResult> OnGetAsync()
    {
        if (Viewer.Of(User) is { PersonId: not null } viewer) return LocalRedirect(Permissions.HomeOf(viewer.Role));
        if (Codes.TryParse<OpenIdRefusal>(Refused, out var refusal)) ModelState.AddModelError("", PeopleWords.Of(refusal));
        return await ShowAsync();
    }

    public async Task<IActionResult> OnPostPasskeyAsync([FromForm] string? @sealed, [FromForm] string? answer, CancellationToken ct)
    {
        ModelState.Clear(); // neither address nor password
        if (await passkeys.SignInAsync(@sealed ?? "", answer ?? "", HttpContext, ct) is not { } person)
        {
            ModelState.AddModelError("", PeopleWords.NoPasskey);
            return await ShowAsync();
        }

        await signIn.SignInAsync(person, Entering.WithSecondFactor());
        return LocalRedirect(Url.IsLocalUrl(ReturnTo) ? ReturnTo! : Permissions.HomeOf(person.Role));
    }

    public async Task<IActionResult> OnPostAsync(CancellationToken ct)
    {
        if (!ModelState.IsValid) return await ShowAsync();
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
        return await ShowAsync();
    }

    private async Task<IActionResult> ShowAsync()
    {
        Passkey = await passkeys.OfferSignInAsync(HttpContext);
        return Page();
    }
}
