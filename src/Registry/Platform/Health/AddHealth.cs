using Microsoft.AspNetCore.Diagnostics.HealthChecks;
using Microsoft.Extensions.Diagnostics.HealthChecks;
using Npgsql;
using Registry.Operations;
using Registry.Platform.Jobs;
using Registry.Records;

namespace Registry.Platform.Health;

/// <summary>
/// <c>/health/live</c>: the process answers. <c>/health/ready</c>: it can do its work: the database is reachable, has the schema this
/// code needs, and (where this process is a worker) its jobs are alive. Both are open to monitors and name nothing of the data.
/// </summary>
public static class HealthSetup
{
    public static IServiceCollection AddHealth(this IServiceCollection services, IConfiguration configuration)
    {
        services.AddHealthChecks()
            .AddCheck<DatabaseReachable>("database")
            .AddCheck<SchemaUpToDate>("schema")
            // A web node keeps answering without a worker; the answer says that jobs wait.
            .AddCheck<WorkerAlive>("worker", JobsSetup.IsWorker(configuration) ? HealthStatus.Unhealthy : HealthStatus.Degraded);
        return services;
    }

    public static WebApplication MapHealth(this WebApplication app)
    {
        app.MapHealthChecks("/health/live", new HealthCheckOptions { Predicate = _ => false }).AllowAnonymous();
        app.MapHealthChecks("/health/ready", new HealthCheckOptions { ResponseWriter = WriteAsync }).AllowAnonymous();
        return app;
    }

    private static Task WriteAsync(HttpContext http, HealthReport report) => http.Response.WriteAsJsonAsync(new
    {
        status = report.Status.ToString(),
        checks = report.Entries.ToDictionary(e => e.Key, e => new { status = e.Value.Status.ToString(), e.Value.Description }),
    });
}

internal sealed class DatabaseReachable(NpgsqlDataSource source) : IHealthCheck
{
    public async Task<HealthCheckResult> CheckHealthAsync(HealthCheckContext context, CancellationToken cancellationToken = default)
    {
        try
        {
            await using var command = source.CreateCommand("select 1");
            await command.ExecuteScalarAsync(cancellationToken);
            return HealthCheckResult.Healthy("answers");
        }
        catch (NpgsqlException error)
        {
            return HealthCheckResult.Unhealthy($"does not answer ({error.SqlState ?? error.GetType().Name})");
        }
    }
}

internal sealed class SchemaUpToDate(RegistryDb db) : IHealthCheck
{
    public async Task<HealthCheckResult> CheckHealthAsync(HealthCheckContext context, CancellationToken cancellationToken = default)
    {
        try
        {
            var (has, needs) = await MigrateDatabase.VersionsAsync(db, cancellationToken);
            return has == needs
                ? HealthCheckResult.Healthy($"has {has}")
                : HealthCheckResult.Unhealthy($"has {has ?? "nothing"}, needs {needs}: run the migrate verb");
        }
        catch (NpgsqlException)
        {
            return HealthCheckResult.Unhealthy("cannot be read");
        }
    }
}

internal sealed class WorkerAlive(ListJobs jobs, TimeProvider time) : IHealthCheck
{
    public Task<HealthCheckResult> CheckHealthAsync(HealthCheckContext context, CancellationToken cancellationToken = default)
    {
        try
        {
            return Task.FromResult(jobs.Workers().Any(w => w.IsAlive(time.GetUtcNow()))
                ? HealthCheckResult.Healthy("runs")
                : new HealthCheckResult(context.Registration.FailureStatus, "no worker is running: jobs wait"));
        }
        catch (NpgsqlException)
        {
            return Task.FromResult(new HealthCheckResult(context.Registration.FailureStatus, "cannot be read"));
        }
    }
}
