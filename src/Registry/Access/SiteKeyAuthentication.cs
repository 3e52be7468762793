using System.Security.Claims;
using System.Text.Encodings.Web;
using Microsoft.AspNetCore.Authentication;
using Microsoft.AspNetCore.Mvc;
using Microsoft.Extensions.Options;
using Registry.Rules.Facts;

namespace Registry.Access;

/// <summary>Reads <c>Authorization: Bearer &lt;site key&gt;</c>, or a token that was given for one. A key that is unknown, revoked, run
/// out, of a site no longer active, or without the certificate it demands is answered 401 as problem+json, without saying which.</summary>
public sealed class SiteKeyAuthentication(
    IOptionsMonitor<AuthenticationSchemeOptions> options, ILoggerFactory logger, UrlEncoder encoder, FindSiteKey find, AppendToTrail trail,
    DescribeRequest request, TimeProvider clock)
    : AuthenticationHandler<AuthenticationSchemeOptions>(options, logger, encoder)
{
    public const string SchemeName = "SiteKey";
    private const string Bearer = "Bearer ";

    /// <summary>Whether a request means to use a key.</summary>
    public static bool IsPresentedIn(HttpRequest request) =>
        request.Headers.Authorization.ToString().StartsWith(Bearer, StringComparison.OrdinalIgnoreCase);

    protected override async Task<AuthenticateResult> HandleAuthenticateAsync()
    {
        if (!IsPresentedIn(Request)) return AuthenticateResult.NoResult();
        var secret = Request.Headers.Authorization.ToString()[Bearer.Length..].Trim();
        if (await find.ForAsync(secret, Context.Connection.RemoteIpAddress?.ToString()) is not { } key
            || !CertificatePins.Admit(key.Certificates, Context.Connection.ClientCertificate, clock.GetUtcNow()))
        {
            await trail.AddOfStrangerAsync(note => request.Entry(Context, AccessKind.KeyRefused, note: note));
            return AuthenticateResult.Fail("The site key is not in force.");
        }

        var identity = new ClaimsIdentity(
        [
            new(Viewer.SiteKeyClaim, key.Id.ToString()),
            new(Viewer.SiteClaim, key.SiteId.ToString()),
            new(Viewer.NameClaim, key.Name),
            new(Viewer.KeyScopeClaim, Codes.Of(key.Scope)),
        ], Scheme.Name);
        return AuthenticateResult.Success(new(new(identity), Scheme.Name));
    }

    protected override Task HandleChallengeAsync(AuthenticationProperties properties)
    {
        Response.Headers.WWWAuthenticate = "Bearer";
        return WriteProblemAsync(Context, StatusCodes.Status401Unauthorized, "Sign in is required",
            "Send a site key that is in force as 'Authorization: Bearer <key>'. An administrator issues and revokes keys.");
    }

    protected override Task HandleForbiddenAsync(AuthenticationProperties properties)
    {
        var sends = Permissions.Holds(Context.User, Permissions.SubmitForSite);
        var reads = Permissions.Holds(Context.User, Permissions.ReadRecords);
        return WriteProblemAsync(Context, StatusCodes.Status403Forbidden, "Not allowed",
            !reads ? "This key may send its own site's rows and follow what became of them; nothing else."
            : !sends ? "This key may read over FHIR the records its site may see; nothing else."
            : "This key may send its own site's rows, follow what became of them, and read over FHIR the records its site may see; "
                + "nothing else.");
    }

    internal static async Task WriteProblemAsync(HttpContext context, int status, string title, string detail)
    {
        context.Response.StatusCode = status;
        await context.Response.WriteAsJsonAsync(
            new ProblemDetails { Status = status, Title = title, Detail = detail },
            options: null, contentType: "application/problem+json", context.RequestAborted);
    }
}
