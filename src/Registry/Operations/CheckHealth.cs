using Microsoft.Extensions.Diagnostics.HealthChecks;
using Npgsql;
using Registry.Records;

namespace Registry.Operations;

/// <summary>Does the database answer.</summary>
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

/// <summary>Has the database the schema this code needs.</summary>
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

/// <summary>Does any worker live.</summary>
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
