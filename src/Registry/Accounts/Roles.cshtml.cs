using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;

namespace Registry.Accounts;

/// <summary>The table of permissions in words, as the program decides by it.</summary>
[Authorize(Permissions.Administrator)]
public sealed class RolesModel : PageModel
{
    public void OnGet() { }
}
