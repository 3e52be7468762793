using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc.RazorPages;

namespace Registry.Intake.Typing;

/// <summary>The ward list as a phone shows it without a connection: an empty frame, the same for everybody, which the phone keeps and
/// fills from what is encrypted on it.</summary>
[AllowAnonymous]
public sealed class WardOfflineModel : PageModel
{
    public ScreenFields Fields { get; } = new(new(), null, []);
}
