using System.ComponentModel.DataAnnotations;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Identity;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Records;

namespace Registry.Accounts;

/// <summary>Asks for the second factor of somebody whose password was right. Nothing else opens before.</summary>
[AllowAnonymous, RequestSizeLimit(16 * 1024)]
public sealed class SecondFactorModel(UserManager<Person> people, SignInManager<Person> signIn, CheckSecondFactor check) : PageModel
{
    [BindProperty, Required(ErrorMessage = PeopleWords.EnterCode), StringLength(40, ErrorMessage = PeopleWords.WrongCode)]
    public string Code { get; set; } = "";

    [FromQuery]
    public string? ReturnTo { get; set; }

    public IActionResult OnGet() => Entering.Of(User) is { Lacks: SecondFactor.Code } ? Page() : LocalRedirect("/sign-in");

    public async Task<IActionResult> OnPostAsync(CancellationToken ct)
    {
        if (Entering.Of(User) is not { Lacks: SecondFactor.Code } entering) return LocalRedirect("/sign-in");
        if (!ModelState.IsValid) return Page();
        var person = (await people.FindByIdAsync(entering.PersonId.ToString()))!;
        var answer = await check.RunAsync(person, Code, HttpContext.Connection.RemoteIpAddress?.ToString() ?? "", ct);
        if (answer == CodeAnswer.Right)
        {
            // A new session takes the place of the one that waited: its token was never more than half a sign-in.
            await signIn.SignInAsync(person, Entering.WithSecondFactor());
            return LocalRedirect(Url.IsLocalUrl(ReturnTo) ? ReturnTo! : Permissions.HomeOf(person.Role));
        }

        if (answer == CodeAnswer.TooMany) Response.StatusCode = StatusCodes.Status429TooManyRequests;
        ModelState.AddModelError("", answer == CodeAnswer.TooMany ? AccountWords.TooManyTries : PeopleWords.WrongCode);
        return Page();
    }
}
