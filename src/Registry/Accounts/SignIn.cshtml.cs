using System.ComponentModel.DataAnnotations;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Identity;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Records;

namespace Registry.Accounts;

/// <summary>Signs a person in. Whether the address is known is never told; five failures lock it for a quarter of an hour.</summary>
[AllowAnonymous]
public sealed class SignInModel(
    SignInManager<Person> signIn, UserManager<Person> people, AuditActs audit, ILogger<SignInModel> log) : PageModel
{
    [BindProperty, Required(ErrorMessage = AccountWords.EnterEmail)]
    public string Email { get; set; } = "";

    [BindProperty, Required(ErrorMessage = AccountWords.EnterPassword)]
    public string Password { get; set; } = "";

    [FromQuery]
    public string? ReturnTo { get; set; }

    public IActionResult OnGet() =>
        Viewer.Of(User).PersonId is null ? Page() : LocalRedirect("/");

    public async Task<IActionResult> OnPostAsync()
    {
        if (!ModelState.IsValid) return Page();
        var person = await people.FindByEmailAsync(Email.Trim());
        if (person is not null)
        {
            var result = await signIn.PasswordSignInAsync(person, Password, isPersistent: false, lockoutOnFailure: true);
            if (result.Succeeded)
            {
                await audit.RecordAsync(AccessKind.SignedIn, person.Id);
                log.LogInformation("Person {PersonId} signed in", person.Id);
                return LocalRedirect(Url.IsLocalUrl(ReturnTo) ? ReturnTo! : "/");
            }

            log.LogWarning("Sign-in failed for person {PersonId}; locked out: {LockedOut}", person.Id, result.IsLockedOut);
        }
        else
        {
            // The same work for an unknown address, so that the time taken tells nothing.
            people.PasswordHasher.HashPassword(new() { DisplayName = "" }, Password);
        }

        await audit.SignInFailedAsync(person?.Id);
        ModelState.AddModelError("", AccountWords.NotSignedIn);
        return Page();
    }
}
