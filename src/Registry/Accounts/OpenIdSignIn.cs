using Microsoft.AspNetCore.Authentication;
using Microsoft.AspNetCore.Authentication.OpenIdConnect;
using Microsoft.AspNetCore.Identity;
using Microsoft.IdentityModel.Protocols.OpenIdConnect;
using Microsoft.IdentityModel.Tokens;
using Registry.Access;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Accounts;

/// <summary>
/// The framework's OpenID Connect handler, as narrow as it can be set: code flow with PKCE, state and nonce bound to the browser, one
/// issuer, signatures only, no tokens kept, no sign-out from outside. Its answer goes to <see cref="EnterByOpenId"/> and ends in a session
/// like every other sign-in.
/// </summary>
internal static class OpenIdSignIn
{
    public const string AnswerPath = "/sign-in/openid/answer";

    /// <summary>Where somebody goes afterwards who asked for no page: to the first of their role.</summary>
    public const string NoPage = "/sign-in";

    private static readonly string[] Signatures =
        ["RS256", "RS384", "RS512", "PS256", "PS384", "PS512", "ES256", "ES384", "ES512"];

    public static void AddOpenIdSignIn(this IServiceCollection services, IConfiguration configuration)
    {
        var (settings, access) = (OpenIdSettings.Read(configuration), AccessSetup.Read(configuration));
        services.AddScoped<EnterByOpenId>();
        if (settings.IsOn)
            services.AddAuthentication().AddOpenIdConnect(OpenIdSettings.Scheme, options => Narrow(options, settings, access));
    }

    private static void Narrow(OpenIdConnectOptions options, OpenIdSettings settings, AccessSettings access)
    {
        options.SignInScheme = PersonAuthentication.SchemeName; // asked for by the library; the ticket never gets there
        options.Authority = settings.Authority;
        options.ClientId = settings.ClientId;
        options.ClientSecret = settings.ClientSecret;
        options.RequireHttpsMetadata = !access.AllowHttp;
        options.CallbackPath = AnswerPath;
        options.RemoteSignOutPath = options.SignedOutCallbackPath = default;
        options.ResponseType = OpenIdConnectResponseType.Code;
        options.ResponseMode = OpenIdConnectResponseMode.Query; // a form posted from elsewhere would bring no Lax cookie
        options.UsePkce = true;
        options.MapInboundClaims = false;
        options.ClaimActions.Clear(); // the issuer and how somebody proved themselves are wanted
        options.DisableTelemetry = true;
        options.BackchannelTimeout = TimeSpan.FromSeconds(10); // anybody can have it asked
        foreach (var scope in settings.Scopes.Append("email")) options.Scope.Add(scope);
        options.TokenValidationParameters.ValidAlgorithms = Signatures;
        options.TokenValidationParameters.IssuerValidator = (issuer, _, _) => settings.Trusts(issuer) ? issuer
            : throw new SecurityTokenInvalidIssuerException("The ID token is of another issuer.");
        foreach (var cookie in (CookieBuilder[])[options.CorrelationCookie, options.NonceCookie])
        {
            cookie.Path = "/";
            cookie.SameSite = SameSiteMode.Lax;
            cookie.SecurePolicy = access.AllowHttp ? CookieSecurePolicy.SameAsRequest : CookieSecurePolicy.Always;
        }

        var prefix = access.AllowHttp ? "" : "__Host-";
        (options.CorrelationCookie.Name, options.NonceCookie.Name) = ($"{prefix}registry-asked.", $"{prefix}registry-nonce.");
        options.Events.OnRedirectToIdentityProvider = async context =>
        {
            // Metadata that speaks for another is no one's (OpenID Connect Discovery 1.0, 4.3).
            var said = await options.ConfigurationManager!.GetConfigurationAsync(context.HttpContext.RequestAborted);
            if (!settings.Trusts(said.Issuer)) throw new InvalidOperationException("The provider's metadata names another issuer.");
        };
        options.Events.OnTicketReceived = EnterAsync;
        options.Events.OnRemoteFailure = FailAsync;
    }

    private static async Task EnterAsync(TicketReceivedContext context)
    {
        var services = context.HttpContext.RequestServices;
        var answer = await services.GetRequiredService<EnterByOpenId>().RunAsync(context.Principal!, context.HttpContext.RequestAborted);
        context.HandleResponse();
        if (answer.Person is not { } person)
        {
            context.Response.Redirect(Refused(answer.Refusal));
            return;
        }

        await services.GetRequiredService<SignInManager<Person>>().SignInAsync(person,
            answer.SecondFactor ? Entering.WithSecondFactor() : new AuthenticationProperties());
        // Looked at when it was asked for, and sealed since.
        context.Response.Redirect(context.ReturnUri is { Length: > 0 } page && page != NoPage ? page : Permissions.HomeOf(person.Role));
    }

    /// <summary>Refused by the provider, or an answer to nothing that was asked: what it said is not repeated.</summary>
    private static async Task FailAsync(RemoteFailureContext context)
    {
        var services = context.HttpContext.RequestServices;
        services.GetRequiredService<ILoggerFactory>().CreateLogger(typeof(OpenIdSignIn))
            .LogWarning("A sign-in by the OpenID provider failed: {Kind}", context.Failure?.GetType().Name);
        await services.GetRequiredService<AuditActs>().SignInFailedAsync(null);
        context.HandleResponse();
        context.Response.Redirect(Refused(OpenIdRefusal.Failed));
    }

    public static string Refused(OpenIdRefusal refusal) => $"/sign-in?refused={Codes.Of(refusal)}";
}
