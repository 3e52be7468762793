using System.ComponentModel.DataAnnotations;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Identity;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Accounts;
using Registry.Records;

namespace Registry.SetUp;

/// <summary>The page behind the link that the first start prints. Opening it changes nothing.</summary>
[AllowAnonymous, RequestSizeLimit(16 * 1024)]
public sealed class FirstAdministratorModel(AddFirstAdministrator add, SignInManager<Person> signIn) : PageModel
{
    [BindProperty, StringLength(254)]
    [Required(ErrorMessage = AccountWords.EnterEmail), EmailAddress(ErrorMessage = AccountWords.EnterEmail)]
    public string Email { get; set; } = "";

    [BindProperty, Required(ErrorMessage = AccountWords.EnterName), StringLength(80, ErrorMessage = AccountWords.NameTooLong)]
    public string Name { get; set; } = "";

    [BindProperty, Required(ErrorMessage = AccountWords.EnterNewPassword)]
    public string Password { get; set; } = "";

    public bool Opens { get; private set; }

    public Task<IActionResult> OnGetAsync(string token, CancellationToken ct) => ShowAsync(token, ct);

    public async Task<IActionResult> OnPostAsync(string token, CancellationToken ct)
    {
        if (!ModelState.IsValid) return await ShowAsync(token, ct);
        var (person, problems) = await add.RunAsync(token, Email, Name, Password, ct);
        if (person is not null)
        {
            await signIn.SignInAsync(person, isPersistent: false);
            return LocalRedirect("/setup");
        }

        foreach (var problem in problems) ModelState.AddModelError("", problem);
        return await ShowAsync(token, ct);
    }

    private async Task<IActionResult> ShowAsync(string token, CancellationToken ct)
    {
        Opens = await add.OpensAsync(token, ct);
        if (!Opens) Response.StatusCode = StatusCodes.Status404NotFound;
        return Page();
    }
}
