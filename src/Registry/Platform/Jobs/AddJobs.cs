using Hangfire;
using Hangfire.PostgreSql;
using Npgsql;

namespace Registry.Platform.Jobs;

/// <summary>
/// Background jobs: Hangfire on the registry's own PostgreSQL, schema <c>hangfire</c>. Row state is the truth and a job only a
/// nudge: every job may run twice, or late, without harm, and takes ids only.
/// </summary>
public static class JobsSetup
{
    private const string Schema = "hangfire";

    public static IServiceCollection AddJobs(this IServiceCollection services, IConfiguration configuration, string connectionString)
    {
        services.AddHangfire(hangfire => hangfire
            .SetDataCompatibilityLevel(CompatibilityLevel.Version_180)
            .UseSimpleAssemblyNameTypeSerializer()
            .UseRecommendedSerializerSettings()
            .UsePostgreSqlStorage(
                postgres => postgres.UseNpgsqlConnection(connectionString),
                new PostgreSqlStorageOptions
                {
                    SchemaName = Schema,
                    PrepareSchemaIfNecessary = false, // the migrate verb makes it
                    QueuePollInterval = TimeSpan.FromSeconds(2),
                    InvisibilityTimeout = TimeSpan.FromMinutes(30),
                }));
        services.AddSingleton<RunRecurringJob>();

        if (!IsWorker(configuration)) return services;
        services.AddHangfireServer(server =>
        {
            server.Queues = Queues.All;
            server.WorkerCount = Math.Clamp(Environment.ProcessorCount, 2, 8);
            server.ShutdownTimeout = TimeSpan.FromSeconds(10);
        });
        services.AddHostedService<ScheduleJobs>();
        return services;
    }

    /// <summary>The job tables, made or brought up to date. Part of migrating.</summary>
    public static async Task MigrateJobsAsync(NpgsqlDataSource source, CancellationToken cancel)
    {
        await using var connection = await source.OpenConnectionAsync(cancel);
        PostgreSqlObjectsInstaller.Install(connection, Schema);
    }

    private static bool IsWorker(IConfiguration configuration) => configuration["Role"] switch
    {
        null or "both" or "worker" => true,
        "web" => false,
        var other => throw new InvalidOperationException($"Role is '{other}'; it is web, worker or both."),
    };
}

/// <summary>Submissions must not wait behind a nightly job.</summary>
public static class Queues
{
    public const string Intake = "intake";
    public const string Default = "default";

    /// <summary>In order of preference.</summary>
    public static readonly string[] All = [Intake, Default];
}
