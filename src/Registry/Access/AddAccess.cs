using Microsoft.AspNetCore.Authentication;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.HttpOverrides;
using Microsoft.AspNetCore.Identity;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Server.Kestrel.Core;
using Microsoft.AspNetCore.Server.Kestrel.Https;
using Registry.Access.Tokens;
using Registry.Platform;
using Registry.Platform.Database;
using Registry.Platform.Jobs;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Access;

/// <summary>Identity, sessions, site keys, permissions and what every request must fulfil, in one place.</summary>
public static class AccessSetup
{
    public static AccessSettings Read(IConfiguration configuration) =>
        (configuration.GetSection("Access").Get<AccessSettings>() ?? new()).Checked();

    public static IServiceCollection AddAccess(this IServiceCollection services, IConfiguration configuration, DatabaseLogins logins)
    {
        var settings = Read(configuration);
        services.AddSingleton(settings);
        services.AddSingleton(Demonstration.Of(configuration));
        services.AddSingleton(OpenIdSettings.Read(configuration));

        AddIdentity(services);
        services.AddAuthentication(PersonAuthentication.SchemeName)
            .AddScheme<AuthenticationSchemeOptions, SiteKeyAuthentication>(SiteKeyAuthentication.SchemeName, null)
            // One request, one way in: a presented key is never helped out by a cookie.
            .AddScheme<AuthenticationSchemeOptions, PersonAuthentication>(PersonAuthentication.SchemeName, options =>
                options.ForwardDefaultSelector = http =>
                    SiteKeyAuthentication.IsPresentedIn(http.Request) ? SiteKeyAuthentication.SchemeName : null);
        services.AddAuthorization(Permissions.Add);
        services.AddProtectForms(settings);
        AddCookies(services, settings);
        AddTransport(services, settings);
        services.AddSingleton<IssueToken>();

        services.AddHttpContextAccessor();
        services.AddSingleton<Sessions>();
        services.AddSingleton<LimitSignIns>();
        services.AddScoped<CheckPassword>();
        services.AddScoped<CheckSecondFactor>();
        services.AddScoped<OneTimeLinks>();
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

    /// <summary>Before anything else: where the request came from, and that it came by TLS.</summary>
    public static WebApplication UseAccess(this WebApplication app)
    {
        var settings = app.Services.GetRequiredService<AccessSettings>();
        var proxies = settings.ProxyNetworks().ToList();
        // Before the next line, which puts the caller's address in the place of the proxy's.
        app.Use((http, next) => TakeClientCertificate.RunAsync(http, settings, proxies, next));
        app.UseForwardedHeaders();
        if (settings.AllowHttp) return app;
        app.UseHsts();
        app.Use(RequireTls.RunAsync);
        return app;
    }

    /// <summary>Authentication, authorisation. Must come before the pages and endpoints are mapped.</summary>
    public static WebApplication MapAccess(this WebApplication app)
    {
        app.Use(RefuseUnreadable.RunAsync);
        app.UseAuthentication();
        app.Use((http, next) => app.Services.GetRequiredService<RecordDenials>().NotShownAsync(http, next));
        app.Use(RequireSameOrigin.RunAsync);
        app.UseAuthorization();
        app.Use(RequireOwnPassword.RunAsync);
        IssueToken.Map(app);
        return app;
    }

    private static void AddIdentity(IServiceCollection services)
    {
        services.AddIdentityCore<Person>(options =>
        {
            options.User.RequireUniqueEmail = true;
            // Length over composition rules: NIST SP 800-63B, 5.1.1.2. What is common is refused by RefuseWeakPasswords.
            options.Password.RequiredLength = RefuseWeakPasswords.Shortest;
            options.Password.RequireDigit = false;
            options.Password.RequireLowercase = false;
            options.Password.RequireUppercase = false;
            options.Password.RequireNonAlphanumeric = false;
        })
            .AddEntityFrameworkStores<RegistryDb>()
            .AddSignInManager()
            .AddPasswordValidator<RefuseWeakPasswords>()
            .AddDefaultTokenProviders();
        services.Configure<IdentityPasskeyOptions>(options =>
        {
            // Found without a name, and used with a finger or a number: it stands for both factors.
            options.ResidentKeyRequirement = "required";
            options.UserVerificationRequirement = "required";
            // Pages send no referrer, and so the Origin of their forms is "null": the browser's own word in the passkey is held against
            // the address that was asked.
            options.ValidateOrigin = said => ValueTask.FromResult(!said.CrossOrigin
                && Uri.TryCreate(said.Origin, UriKind.Absolute, out var origin)
                && Uri.TryCreate($"{said.HttpContext.Request.Scheme}://{said.HttpContext.Request.Host}", UriKind.Absolute, out var here)
                && origin == here);
        });
        services.AddScoped<IPasskeyHandler<Person>, PasskeyHandler<Person>>();
    }

    private static void AddCookies(IServiceCollection services, AccessSettings settings)
    {
        var secure = settings.AllowHttp ? CookieSecurePolicy.SameAsRequest : CookieSecurePolicy.Always;
        var prefix = settings.AllowHttp ? "" : "__Host-";
        services.AddAntiforgery(options =>
        {
            options.HeaderName = "X-Registry-Form";
            options.Cookie.Name = $"{prefix}registry-form";
            options.Cookie.SecurePolicy = secure;
        });
        services.Configure<CookieTempDataProviderOptions>(options =>
        {
            options.Cookie.Name = $"{prefix}registry-note";
            options.Cookie.SecurePolicy = secure;
        });
    }

    private static void AddTransport(IServiceCollection services, AccessSettings settings)
    {
        if (settings.ClientCertificates == CertificateSource.Tls)
            services.Configure<KestrelServerOptions>(kestrel => kestrel.ConfigureHttpsDefaults(https =>
            {
                https.ClientCertificateMode = ClientCertificateMode.AllowCertificate;
                https.ClientCertificateValidation = (_, _, _) => true; // the key says which, by CertificatePins
            }));
        services.AddHsts(options =>
        {
            options.MaxAge = TimeSpan.FromDays(365);
            options.IncludeSubDomains = true;
        });
        services.Configure<ForwardedHeadersOptions>(options =>
        {
            options.ForwardedHeaders = ForwardedHeaders.XForwardedFor | ForwardedHeaders.XForwardedProto;
            options.ForwardLimit = null; // as many as are declared, one behind the other
            options.KnownProxies.Clear();
            options.KnownIPNetworks.Clear();
            foreach (var network in settings.ProxyNetworks()) options.KnownIPNetworks.Add(network);
            // With nobody declared nobody is believed; an empty list would be taken as "everybody".
            if (options.KnownIPNetworks.Count == 0) options.ForwardedHeaders = ForwardedHeaders.None;
        });
    }
}
