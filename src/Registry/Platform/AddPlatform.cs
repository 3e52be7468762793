using System.Globalization;
using FluentValidation;
using Serilog;
using Serilog.Events;

namespace Registry.Platform;

/// <summary>What every capability stands on: logging without personal data, options, the clock, problem+json, Razor Pages by
/// slice.</summary>
public static class PlatformSetup
{
    public static WebApplicationBuilder AddPlatform(this WebApplicationBuilder builder)
    {
        // A secret may be a file: its name is the setting (ConnectionStrings__Registry), its content the value.
        builder.Configuration.AddKeyPerFile(builder.Configuration["SecretsFolder"] ?? "/run/secrets", optional: true);

        // Request logging names the route pattern, never the URL: a URL may hold an id.
        builder.Services.AddSerilog(log => log
            .ReadFrom.Configuration(builder.Configuration)
            .MinimumLevel.Override("Microsoft.AspNetCore", LogEventLevel.Warning)
            .MinimumLevel.Override("Microsoft.EntityFrameworkCore", LogEventLevel.Warning)
            // A failed command is thrown, and named by whoever catches it; the log must not repeat its text and values.
            .MinimumLevel.Override("Microsoft.EntityFrameworkCore.Database.Command", LogEventLevel.Fatal)
            .MinimumLevel.Override("Hangfire", LogEventLevel.Warning)
            .Enrich.FromLogContext()
            .WriteTo.Console(formatProvider: CultureInfo.InvariantCulture));

        builder.WebHost.ConfigureKestrel(kestrel => kestrel.AddServerHeader = false);
        builder.Services.AddOptions<ProgramOptions>().BindConfiguration("Program").ValidateDataAnnotations().ValidateOnStart();
        builder.Services.AddSingleton<ProgramInForce>();
        builder.Services.AddSingleton<Microsoft.Extensions.Options.IOptions<ProgramOptions>>(p => p.GetRequiredService<ProgramInForce>());
        builder.Services.AddHostedService<FollowProgram>();
        builder.Services.AddSingleton(TimeProvider.System);
        builder.Services.AddSingleton<ProgramClock>();
        builder.Services.AddProblemDetails();
        // An id that is no id is the caller's mistake, answered 400; thrown, its value would stand in the log.
        builder.Services.Configure<RouteHandlerOptions>(options => options.ThrowOnBadRequest = false);
        builder.Services.AddExceptionHandler<AnswerOutage>();
        builder.Services.AddExceptionHandler<AnswerRefusal>();
        builder.Services.AddValidatorsFromAssemblyContaining<Program>(ServiceLifetime.Singleton, includeInternalTypes: true);
        builder.Services.AddOpenApi("v1", options => options.AddDocumentTransformer((document, _, _) =>
        {
            document.Info.Title = "Infant hearing registry";
            document.Info.Description =
                "Intake of births, screening results and follow-up; measures; export. A refer is not a diagnosis; a pass does not exclude "
                + "later hearing loss.";
            document.Servers = [];
            return Task.CompletedTask;
        }));
        builder.Services.AddRazorPages().WithRazorPagesRoot("/");
        return builder;
    }

    public static WebApplication UsePlatform(this WebApplication app)
    {
        app.UseSerilogRequestLogging(options =>
        {
            options.MessageTemplate = "{RequestMethod} {Route} {StatusCode} in {Elapsed:0} ms";
            options.EnrichDiagnosticContext = (log, http) =>
                log.Set("Route", (http.GetEndpoint() as RouteEndpoint)?.RoutePattern.RawText ?? "(no route)");
        });
        app.MapStaticAssets().AllowAnonymous();
        return app;
    }
}
