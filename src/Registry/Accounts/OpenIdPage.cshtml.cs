using Microsoft.AspNetCore.Authentication;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;

namespace Registry.Accounts;

/// <summary>Sends the browser to the OpenID provider. By GET, because a form may be sent to this registry alone.</summary>
[AllowAnonymous]
public sealed class OpenIdPageModel(OpenIdSettings settings, ILogger<OpenIdPageModel> log) : PageModel
{
    [FromQuery]
    public string? ReturnTo { get; set; }

    public async Task<IActionResult> OnGetAsync(CancellationToken ct)
    {
        if (!settings.IsOn) return NotFound();
        // Nobody is signed in by a page elsewhere: it leads to where they decide (Fetch Metadata Request Headers, W3C).
        if (Request.Headers["Sec-Fetch-Site"].ToString() is not ("" or "same-origin" or "none")) return LocalRedirect(OpenIdSignIn.NoPage);
        try
        {
            // A page elsewhere is not gone to afterwards.
            await HttpContext.ChallengeAsync(OpenIdSettings.Scheme,
                new() { RedirectUri = Url.IsLocalUrl(ReturnTo) ? ReturnTo! : OpenIdSignIn.NoPage });
            return new EmptyResult();
        }
        catch (Exception e) when (e is InvalidOperationException or IOException or HttpRequestException && !ct.IsCancellationRequested)
        {
            log.LogError("The OpenID provider does not answer: {Kind}", e.GetType().Name);
            return LocalRedirect(OpenIdSignIn.Refused(OpenIdRefusal.Failed));
        }
    }
}
