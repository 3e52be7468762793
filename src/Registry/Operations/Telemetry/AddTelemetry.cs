using OpenTelemetry.Metrics;
using OpenTelemetry.Resources;
using OpenTelemetry.Trace;

namespace Registry.Operations.Telemetry;

/// <summary>
/// Metrics for Prometheus at <c>Operations:MetricsUrl</c> (an address of its own, nothing else answers there) and traces by OTLP to
/// <c>Operations:TracesTo</c>. Both are off unless set. They name routes, statuses and durations, never a URL: it may hold an id.
/// </summary>
public static class TelemetrySetup
{
    private const string Path = "/metrics";

    public static IServiceCollection AddTelemetry(this IServiceCollection services, IConfiguration configuration)
    {
        var options = Of(configuration);
        if (options.MetricsUrl is null && options.TracesTo is null) return services;
        var telemetry = services.AddOpenTelemetry().ConfigureResource(r => r.AddService("registry"));
        if (options.MetricsUrl is { } metrics)
        {
            configuration["Urls"] = $"{configuration["Urls"]};{metrics.GetLeftPart(UriPartial.Authority)}";
            services.AddSingleton<IStartupFilter>(new AnswerMetrics(metrics.Port));
            telemetry.WithMetrics(m => m
                .AddMeter("Microsoft.AspNetCore.Hosting", "Microsoft.AspNetCore.Server.Kestrel", "System.Runtime", "Npgsql")
                .AddPrometheusExporter());
        }

        if (options.TracesTo is { } collector)
            telemetry.WithTracing(t => t
                .AddAspNetCoreInstrumentation(a => a.EnrichWithHttpResponse = static (activity, response) =>
                {
                    var route = (response.HttpContext.GetEndpoint() as RouteEndpoint)?.RoutePattern.RawText ?? "(no route)";
                    activity.SetTag("url.path", route);
                    activity.SetTag("url.query", null);
                })
                .AddSource("Npgsql")
                .AddOtlpExporter(o => o.Endpoint = collector));
        return services;
    }

    /// <summary>Whether an address the program listens at is that of the metrics, where no page is.</summary>
    public static bool IsForMetrics(IConfiguration configuration, string address) =>
        Of(configuration).MetricsUrl is { } metrics && Uri.TryCreate(address, UriKind.Absolute, out var at) && at.Port == metrics.Port;

    private static OperationsOptions Of(IConfiguration configuration) =>
        configuration.GetSection("Operations").Get<OperationsOptions>() ?? new();

    /// <summary>First in the pipeline: what comes in at the metrics' address gets metrics or nothing, and they answer nowhere
    /// else.</summary>
    private sealed class AnswerMetrics(int port) : IStartupFilter
    {
        public Action<IApplicationBuilder> Configure(Action<IApplicationBuilder> next) => app =>
        {
            app.UseOpenTelemetryPrometheusScrapingEndpoint(http => http.Connection.LocalPort == port && http.Request.Path == Path);
            app.Use((http, rest) =>
            {
                if (http.Connection.LocalPort != port) return rest(http);
                http.Response.StatusCode = StatusCodes.Status404NotFound;
                return Task.CompletedTask;
            });
            next(app);
        };
    }
}
