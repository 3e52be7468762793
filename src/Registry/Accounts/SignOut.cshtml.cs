using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Identity;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Records;

namespace Registry.Accounts;

/// <summary>Ends the session. Only a POST does, so that a link cannot.</summary>
[AllowAnonymous]
public sealed class SignOutModel(SignInManager<Person> signIn) : PageModel
{
    public void OnGet() { }

    public async Task<IActionResult> OnPostAsync()
    {
        await signIn.SignOutAsync();
        return LocalRedirect("/sign-out");
    }
}
