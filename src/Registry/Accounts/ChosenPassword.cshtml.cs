using System.ComponentModel.DataAnnotations;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Identity;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Records;

namespace Registry.Accounts;

/// <summary>The page behind a link that was sent to a person. Opening it only asks, since mail scanners open links too.</summary>
[AllowAnonymous, RequestSizeLimit(16 * 1024)]
public sealed class ChosenPasswordModel(ChoosePassword choose, SignInManager<Person> signIn) : PageModel
{
    [BindProperty, Required(ErrorMessage = AccountWords.EnterNewPassword)]
    public string Password { get; set; } = "";

    public Person? Person { get; private set; }

    public async Task<IActionResult> OnGetAsync(string token, CancellationToken ct) => await ShowAsync(token, ct);

    public async Task<IActionResult> OnPostAsync(string token, CancellationToken ct)
    {
        if (!ModelState.IsValid) return await ShowAsync(token, ct);
        var (person, problems) = await choose.RunAsync(token, Password, ct);
        if (person is not null)
        {
            await signIn.SignInAsync(person, isPersistent: false);
            return LocalRedirect(Permissions.HomeOf(person.Role));
        }

        foreach (var problem in problems) ModelState.AddModelError("", problem);
        return await ShowAsync(token, ct);
    }

    private async Task<IActionResult> ShowAsync(string token, CancellationToken ct)
    {
        Person = await choose.WhoseAsync(token, ct);
        if (Person is null) Response.StatusCode = StatusCodes.Status404NotFound;
        return Page();
    }
}
