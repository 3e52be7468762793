using System.Security.Claims;
using Microsoft.AspNetCore.Authentication;
using Microsoft.AspNetCore.Authentication.Cookies;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.DataProtection;
using Microsoft.AspNetCore.Identity;
using Microsoft.Extensions.Options;
using Registry.Platform.Database;
using Registry.Platform.Jobs;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Access;

/// <summary>Settings of sign-in. What a deployment may choose; everything else is fixed in <see cref="AccessSetup"/>.</summary>
public sealed record AccessSettings
{
    /// <summary>Minutes without a request after which a person must sign in again.</summary>
    public int IdleMinutes { get; init; } = 30;

    /// <summary>Permits plain HTTP: for a demonstration on one machine only.</summary>
    public bool AllowHttp { get; init; }

    /// <summary>Folder that keeps the cookie-protection keys; needed as soon as two web nodes share sign-ins or a container is
    /// replaced.</summary>
    public string? KeyFolder { get; init; }
}

/// <summary>Identity, cookies, site keys, policies and headers, in one place.</summary>
public static class AccessSetup
{
    public static IServiceCollection AddAccess(this IServiceCollection services, IConfiguration configuration, DatabaseLogins logins)
    {
        var settings = configuration.GetSection("Access").Get<AccessSettings>() ?? new();
        if (settings.IdleMinutes is < 1 or > 720)
            throw new InvalidOperationException("Access:IdleMinutes must be between 1 and 720.");
        services.AddSingleton(settings);

        services.AddIdentityCore<Person>(options =>
        {
            options.User.RequireUniqueEmail = true;
            // Length over composition rules: NIST SP 800-63B, 5.1.1.2.
            options.Password.RequiredLength = 12;
            options.Password.RequireDigit = false;
            options.Password.RequireLowercase = false;
            options.Password.RequireUppercase = false;
            options.Password.RequireNonAlphanumeric = false;
            options.Lockout.MaxFailedAccessAttempts = 5;
            options.Lockout.DefaultLockoutTimeSpan = TimeSpan.FromMinutes(15);
        })
            .AddEntityFrameworkStores<RegistryDb>()
            .AddSignInManager()
            .AddClaimsPrincipalFactory<PersonClaims>()
            .AddDefaultTokenProviders();

        // A changed password, role or site ends old sessions within this interval.
        services.Configure<SecurityStampValidatorOptions>(o => o.ValidationInterval = TimeSpan.FromMinutes(2));
        services.AddAuthentication(IdentityConstants.ApplicationScheme)
            .AddScheme<AuthenticationSchemeOptions, SiteKeyAuthentication>(SiteKeyAuthentication.SchemeName, null)
            .AddIdentityCookies(cookies => cookies.ApplicationCookie!.Configure(options => Configure(options, settings)));
        services.AddAuthorization(Permissions.Add);

        var protection = services.AddDataProtection().SetApplicationName("registry");
        if (settings.KeyFolder is { Length: > 0 } folder) protection.PersistKeysToFileSystem(new(folder));

        services.AddAntiforgery(options =>
        {
            options.HeaderName = "X-Registry-Form";
            options.Cookie.Name = settings.AllowHttp ? "registry-form" : "__Host-registry-form";
            options.Cookie.SecurePolicy = settings.AllowHttp ? CookieSecurePolicy.SameAsRequest : CookieSecurePolicy.Always;
        });
        services.AddHttpContextAccessor();
        services.AddSingleton(logins);
        services.AddSingleton<ViewerDatabase>();
        services.AddScoped<SiteKeys>();
        services.AddSingleton<FindSiteKey>();
        services.AddSingleton<AppendToTrail>();
        services.AddSingleton<DescribeRequest>();
        services.AddScoped<AuditReads>();
        services.AddScoped<AuditActs>();
        services.AddScoped<VerifyTrail>();
        services.AddScoped<DigestTrail>();
        services.AddSingleton<RecordDenials>();
        services.AddSingleton<IAuthorizationMiddlewareResultHandler>(p => p.GetRequiredService<RecordDenials>());
        services.AddSingleton<JobEnded>(p => (job, outcome) => p.GetRequiredService<AppendToTrail>().AddAsync(
            new() { Kind = AccessKind.JobEnded, Action = "", Note = $"{job} {Codes.Of(outcome)}" }));
        services.AddScoped(s =>
            s.GetRequiredService<IHttpContextAccessor>().HttpContext is { } http ? Viewer.Of(http.User) : Viewer.Nobody);
        return services;
    }

    /// <summary>Authentication, authorisation. Must come before the pages and endpoints are mapped.</summary>
    public static WebApplication MapAccess(this WebApplication app)
    {
        if (!app.Services.GetRequiredService<AccessSettings>().AllowHttp) app.UseHsts();
        app.UseAuthentication();
        app.Use((http, next) => app.Services.GetRequiredService<RecordDenials>().NotShownAsync(http, next));
        app.UseAuthorization();
        return app;
    }

    private static void Configure(CookieAuthenticationOptions options, AccessSettings settings)
    {
        options.Cookie.Name = settings.AllowHttp ? "registry-session" : "__Host-registry-session";
        options.Cookie.HttpOnly = true;
        options.Cookie.SameSite = SameSiteMode.Lax;
        options.Cookie.SecurePolicy = settings.AllowHttp ? CookieSecurePolicy.SameAsRequest : CookieSecurePolicy.Always;
        options.ExpireTimeSpan = TimeSpan.FromMinutes(settings.IdleMinutes);
        options.SlidingExpiration = true;
        options.LoginPath = "/sign-in";
        options.LogoutPath = "/sign-out";
        options.AccessDeniedPath = "/denied";
        options.ReturnUrlParameter = "returnTo";

        // One request, one way in: a presented key is never helped out by a cookie.
        options.ForwardDefaultSelector = http =>
            SiteKeyAuthentication.IsPresentedIn(http.Request) ? SiteKeyAuthentication.SchemeName : null;
        options.Events.OnRedirectToLogin = c => RedirectOrProblem(c, StatusCodes.Status401Unauthorized, "Sign in is required",
            "Send a site key that is in force as 'Authorization: Bearer <key>'.");
        options.Events.OnRedirectToAccessDenied = c => RedirectOrProblem(c, StatusCodes.Status403Forbidden, "Not allowed",
            "Your role does not permit this.");
    }

    /// <summary>Browsers are sent to a page; callers of the API are told in problem+json.</summary>
    private static Task RedirectOrProblem(RedirectContext<CookieAuthenticationOptions> context, int status, string title, string detail)
    {
        if (context.Request.Path.StartsWithSegments("/api", StringComparison.OrdinalIgnoreCase)
            || context.Request.Path.StartsWithSegments("/fhir", StringComparison.OrdinalIgnoreCase))
            return SiteKeyAuthentication.WriteProblemAsync(context.HttpContext, status, title, detail);
        context.Response.Redirect(context.RedirectUri);
        return Task.CompletedTask;
    }
}

/// <summary>Puts what <see cref="Viewer"/> needs into the cookie at sign-in and at each revalidation.</summary>
public sealed class PersonClaims(UserManager<Person> people, IOptions<IdentityOptions> options)
    : UserClaimsPrincipalFactory<Person>(people, options)
{
    protected override async Task<ClaimsIdentity> GenerateClaimsAsync(Person user)
    {
        var identity = await base.GenerateClaimsAsync(user);
        identity.AddClaim(new(Viewer.PersonClaim, user.Id.ToString()));
        identity.AddClaim(new(Viewer.RoleClaim, Codes.Of(user.Role)));
        identity.AddClaim(new(Viewer.NameClaim, user.DisplayName));
        if (user.SiteId is { } site) identity.AddClaim(new(Viewer.SiteClaim, site.ToString()));
        return identity;
    }
}
