using Hangfire;
using Microsoft.AspNetCore.Diagnostics.HealthChecks;
using Microsoft.Extensions.Diagnostics.HealthChecks;
using Registry.Access;
using Registry.Operations.Alarms;
using Registry.Operations.Checks;
using Registry.Operations.Telemetry;
using Registry.Platform.Jobs;
using RecurringJob = Registry.Platform.Jobs.RecurringJob;

namespace Registry.Operations;

/// <summary>
/// <c>/operations</c> and <c>/jobs</c>, for administrators. <c>/health/live</c>: the process answers. <c>/health/ready</c>: it can do its
/// work: the database is reachable, has the schema this code needs, and (where this process is a worker) its jobs are alive. Both are open
/// to monitors; what is the matter is told to an administrator, and to who asks on the machine itself.
/// </summary>
public static class OperationsSetup
{
    public static IServiceCollection AddOperations(this IServiceCollection services, IConfiguration configuration)
    {
        services.AddOptions<OperationsOptions>().BindConfiguration("Operations").ValidateDataAnnotations().ValidateOnStart();
        services.AddSingleton<ListJobs>();
        services.AddTelemetry(configuration);
        services.AddSingleton<FindProblems>();
        services.AddSingleton<CheckInstallation>();
        services.AddSingleton<IInstallationCheck, CheckMail>();
        services.AddSingleton<IInstallationCheck, CheckCertificates>();
        services.AddSingleton<IInstallationCheck, CheckFormKeys>();
        services.AddSingleton<TellProblems>();
        services.AddSingleton<WatchOperations>();
        services.AddSingleton<WatchWorkers>();
        services.AddHostedService(provider => provider.GetRequiredService<WatchWorkers>());
        services.AddSingleton(RecurringJob.Of<WatchOperations>(
            "watch-operations", "Problems noticed, and told by mail", "*/5 * * * *", j => j.RunAsync(CancellationToken.None)));
        services.AddHealthChecks()
            .AddCheck<DatabaseReachable>("database")
            .AddCheck<SchemaUpToDate>("schema")
            // A web node keeps answering without a worker; the answer says that jobs wait.
            .AddCheck<WorkerAlive>("worker", JobsSetup.IsWorker(configuration) ? HealthStatus.Unhealthy : HealthStatus.Degraded);
        return services;
    }

    public static WebApplication MapOperations(this WebApplication app)
    {
        // Hangfire's own page can run and delete jobs: it must stay closed to everybody but administrators.
        app.MapHangfireDashboard(
            "/jobs", new DashboardOptions
            {
                Authorization = [],
                AppPath = "/operations",
                DashboardTitle = "Background jobs",
                DisplayStorageConnectionString = false
            })
            .RequireAuthorization(Permissions.Administrator)
            .Add(GuardJobPages.Before);
        var read = new HttpMethodMetadata([HttpMethods.Get, HttpMethods.Head]);
        app.MapHealthChecks("/health/live", new HealthCheckOptions { Predicate = _ => false }).AllowAnonymous().WithMetadata(read);
        app.MapHealthChecks("/health/ready", new HealthCheckOptions { ResponseWriter = WriteAsync }).AllowAnonymous().WithMetadata(read);
        return app;
    }

    private static Task WriteAsync(HttpContext http, HealthReport report) => MayKnow(http)
        ? http.Response.WriteAsJsonAsync(new
        {
            status = report.Status.ToString(),
            checks = report.Entries.ToDictionary(e => e.Key, e => new { status = e.Value.Status.ToString(), e.Value.Description }),
        })
        : http.Response.WriteAsJsonAsync(new { status = report.Status.ToString() });

    /// <summary>A request that passed a proxy is nobody on this machine, whatever address the proxy has.</summary>
    private static bool MayKnow(HttpContext http) => Permissions.Holds(http.User, Permissions.Administrator)
        || (http.Connection.RemoteIpAddress is { } from && System.Net.IPAddress.IsLoopback(from)
            && !http.Request.Headers.ContainsKey("X-Forwarded-For") && !http.Request.Headers.ContainsKey("X-Original-For")
            && !http.Request.Headers.ContainsKey("Forwarded"));
}
