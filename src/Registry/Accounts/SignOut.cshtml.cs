using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Identity;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Records;

namespace Registry.Accounts;

/// <summary>Ends the session. Only a POST does, so that a link cannot.</summary>
[AllowAnonymous]
public sealed class SignOutModel(SignInManager<Person> signIn, AuditActs audit) : PageModel
{
    public void OnGet() { }

    public async Task<IActionResult> OnPostAsync()
    {
        if (Viewer.Of(User).PersonId is not null) await audit.RecordAsync(AccessKind.SignedOut);
        await signIn.SignOutAsync();
        return LocalRedirect("/sign-out");
    }
}
