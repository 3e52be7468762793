using System.Security.Claims;
using System.Text.Encodings.Web;
using Microsoft.AspNetCore.Authentication;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Identity;
using Microsoft.AspNetCore.StaticAssets;
using Microsoft.Extensions.Options;
using Registry.Platform.Data;
using Registry.Rules.Facts;

namespace Registry.Access;

/// <summary>
/// People's sign-in: a cookie that holds the token of a session and nothing else. Who it is, the role and the site are read from the
/// database at every request (<see cref="Sessions"/>). It stands where the identity library's own cookie would, under its name: what that
/// library adds later (a second factor, passkeys) ends in the same sign-in.
/// </summary>
public sealed class PersonAuthentication(
    IOptionsMonitor<AuthenticationSchemeOptions> options, ILoggerFactory logger, UrlEncoder encoder, Sessions sessions,
    AccessSettings settings) : SignInAuthenticationHandler<AuthenticationSchemeOptions>(options, logger, encoder)
{
    public static string SchemeName => IdentityConstants.ApplicationScheme;

    private string CookieName => settings.AllowHttp ? "registry-session" : "__Host-registry-session";

    protected override async Task<AuthenticateResult> HandleAuthenticateAsync()
    {
        var endpoint = Context.GetEndpoint();
        // Scripts and style sheets are the same for everybody.
        if (endpoint?.Metadata.GetMetadata<StaticAssetDescriptor>() is not null || Request.Cookies[CookieName] is not { } token)
            return AuthenticateResult.NoResult();
        SessionInForce? session;
        try
        {
            session = await sessions.ForAsync(token, Context.RequestAborted);
        }
        catch (Exception e) when (DatabaseOutage.IsCauseOf(e) && endpoint?.Metadata.GetMetadata<IAllowAnonymous>() is not null)
        {
            return AuthenticateResult.NoResult(); // what anybody may see is shown without knowing who asks
        }

        return session is null ? AuthenticateResult.Fail("The session has ended.")
            : AuthenticateResult.Success(new(PrincipalOf(session), Scheme.Name));
    }

    protected override async Task HandleSignInAsync(ClaimsPrincipal user, AuthenticationProperties? properties)
    {
        var person = Guid.Parse(user.FindFirstValue(ClaimTypes.NameIdentifier)!);
        // A session somebody else planted in this browser is not taken over, and an own one not left behind.
        if (Request.Cookies[CookieName] is { } before) await sessions.EndAsync(before, Context.RequestAborted);
        var token = await sessions.OpenAsync(person, Context.Connection.RemoteIpAddress?.ToString(),
            Request.Headers.UserAgent.ToString(), Entering.HasShownSecondFactor(properties), Context.RequestAborted);
        Response.Cookies.Append(CookieName, token, Cookie());
    }

    protected override async Task HandleSignOutAsync(AuthenticationProperties? properties)
    {
        if (Request.Cookies[CookieName] is { } token) await sessions.EndAsync(token, Context.RequestAborted);
        Response.Cookies.Delete(CookieName, Cookie());
        Response.Headers["Clear-Site-Data"] = "\"cache\",\"cookies\",\"storage\"";
    }

    /// <summary>Browsers are sent to a page; callers of an interface are told in problem+json.</summary>
    protected override Task HandleChallengeAsync(AuthenticationProperties properties) => IsForInterface
        ? SiteKeyAuthentication.WriteProblemAsync(Context, StatusCodes.Status401Unauthorized, "Sign in is required",
            "Send a site key that is in force as 'Authorization: Bearer <key>'.")
        : RedirectAsync("/sign-in");

    protected override Task HandleForbiddenAsync(AuthenticationProperties properties) => IsForInterface
        ? SiteKeyAuthentication.WriteProblemAsync(Context, StatusCodes.Status403Forbidden, "Not allowed", "Your role does not permit this.")
        : RedirectAsync(Entering.Of(Context.User)?.Page ?? "/denied");

    private bool IsForInterface => Request.Path.StartsWithSegments("/api", StringComparison.OrdinalIgnoreCase)
        || Request.Path.StartsWithSegments("/fhir", StringComparison.OrdinalIgnoreCase);

    private Task RedirectAsync(string page)
    {
        Response.Redirect(BuildRedirectUri(page + QueryString.Create("returnTo", OriginalPath + Request.QueryString)));
        return Task.CompletedTask;
    }

    private CookieOptions Cookie() => new()
    {
        HttpOnly = true,
        SameSite = SameSiteMode.Lax,
        Secure = !settings.AllowHttp || Request.IsHttps,
        Path = "/",
        IsEssential = true,
    };

    private ClaimsPrincipal PrincipalOf(SessionInForce session)
    {
        if (session.Lacks != SecondFactor.Nothing) return Entering.PrincipalOf(session, Scheme.Name);
        var identity = new ClaimsIdentity(
        [
            new(ClaimTypes.NameIdentifier, session.PersonId.ToString()), // a form's token is bound to it
            new(Viewer.PersonClaim, session.PersonId.ToString()),
            new(Viewer.RoleClaim, Codes.Of(session.Role)),
            new(Viewer.NameClaim, session.Name),
            new(Viewer.SessionClaim, session.Id.ToString()),
        ], Scheme.Name);
        if (session.SiteId is { } site) identity.AddClaim(new(Viewer.SiteClaim, site.ToString()));
        if (session.HasPlaces) identity.AddClaim(new(Viewer.PlacesClaim, "true"));
        identity.AddClaims(session.Counties.Select(c => new Claim(Viewer.CountyClaim, c)));
        identity.AddClaims(session.Glasses.Select(g => new Claim(Viewer.GlassClaim, g.ToString())));
        if (session.MustChangePassword) identity.AddClaim(new(Viewer.GivenPasswordClaim, "true"));
        return new(identity);
    }
}
