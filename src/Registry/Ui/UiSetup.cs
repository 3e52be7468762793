using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Diagnostics;
using Microsoft.AspNetCore.Mvc;
using Microsoft.Extensions.Options;
using Registry.Access;
using Registry.Platform;

namespace Registry.Ui;

/// <summary>Razor pages beside their slices, the shared layout, static files and error pages.</summary>
public static class UiSetup
{
    public static IServiceCollection AddUi(this IServiceCollection services)
    {
        services.AddRazorPages(options =>
        {
            options.RootDirectory = "/";
            // Every page needs a signed-in person; sign-in and the error pages say otherwise themselves.
            options.Conventions.AuthorizeFolder("/", Permissions.Person);
            // One that says nothing about who may open it is for those who see infants.
            options.Conventions.AddFolderApplicationModelConvention("/", page =>
            {
                if (!page.HandlerTypeAttributes.Any(a => a is IAuthorizeData or IAllowAnonymous))
                    page.EndpointMetadata.Add(new AuthorizeAttribute(Permissions.SeeInfants));
            });
        })
            .AddMvcOptions(options =>
            {
                options.Filters.Add<RequireAudit>();
                options.Filters.Add<RefuseUnreadableForm>();
                // An instance keeps its order (1000): after the filters that set size limits, before anything reads the form.
                options.Filters.Add(new AutoValidateAntiforgeryTokenAttribute());
            })
            .AddRazorOptions(options => options.PageViewLocationFormats.Add("/Ui/{0}.cshtml"));
        services.AddRouting(options => options.LowercaseUrls = true);
        services.AddScoped<AsOf>();
        services.AddScoped<SiteChoices>();
        return services;
    }

    /// <summary>Early in the pipeline: what every answer carries, and what is answered when nothing else was.</summary>
    public static WebApplication UseUi(this WebApplication app)
    {
        var clock = app.Services.GetRequiredService<ProgramClock>();
        Words.Zone = clock.Zone;
        Words.Order = app.Services.GetRequiredService<IOptions<ProgramOptions>>().Value.DateOrder;
        app.Services.GetRequiredService<ProgramInForce>().Changed += () => Words.Zone = clock.Zone;
        app.UseExceptionHandler(new ExceptionHandlerOptions
        {
            ExceptionHandlingPath = "/problem/500",
            StatusCodeSelector = e => e is RequestRefusedException refused ? refused.Status : StatusCodes.Status500InternalServerError,
            // A refusal is an answer, not a failure to be looked into.
            SuppressDiagnosticsCallback = c =>
                c.ExceptionHandledBy == ExceptionHandledType.ExceptionHandlerService || c.Exception is RequestRefusedException,
        });
        app.UseStatusCodePagesWithReExecute("/problem/{0}");
        app.Use(SecurityHeaders.AddAsync);
        return app;
    }
}
