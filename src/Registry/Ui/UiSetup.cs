using Microsoft.AspNetCore.Mvc;
using Registry.Access;

namespace Registry.Ui;

/// <summary>Razor pages beside their slices, the shared layout, static files and error pages.</summary>
public static class UiSetup
{
    public static IServiceCollection AddUi(this IServiceCollection services, IConfiguration configuration)
    {
        services.AddSingleton(configuration.GetSection("Program").Get<ProgramSettings>() ?? new());
        services.AddRazorPages(options =>
        {
            options.RootDirectory = "/";
            // Every page needs a signed-in person; sign-in and the error pages say otherwise themselves.
            options.Conventions.AuthorizeFolder("/", Policies.Person);
        })
            .AddMvcOptions(options =>
            {
                options.Filters.Add<RequireAudit>();
                options.Filters.Add<AutoValidateAntiforgeryTokenAttribute>();
            })
            .AddRazorOptions(options => options.PageViewLocationFormats.Add("/Ui/{0}.cshtml"));
        services.AddRouting(options => options.LowercaseUrls = true);
        services.AddScoped<AsOf>();
        services.AddScoped<PolicyInForce>();
        return services;
    }

    /// <summary>First in the pipeline: error pages and static files, which need no sign-in.</summary>
    public static WebApplication UseUi(this WebApplication app)
    {
        app.UseWhen(
            http => !http.Request.Path.StartsWithSegments("/api", StringComparison.OrdinalIgnoreCase),
            pages => pages.UseExceptionHandler("/problem/500").UseStatusCodePagesWithReExecute("/problem/{0}"));
        app.Use(SecurityHeaders.AddAsync);
        app.UseStaticFiles(new StaticFileOptions
        {
            // Names carry a content hash (asp-append-version), so a copy may be kept.
            OnPrepareResponse = c => c.Context.Response.Headers.CacheControl = "public, max-age=86400",
        });
        return app;
    }

    public static WebApplication MapUi(this WebApplication app)
    {
        app.MapRazorPages();
        return app;
    }
}
