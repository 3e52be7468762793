using Hangfire;
using Hangfire.AspNetCore;
using Hangfire.Common;
using Hangfire.PostgreSql;
using Hangfire.PostgreSql.Factories;
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
        // Registered here and not through Hangfire's statics: two programs in one process (tests) must not share them.
        services.AddSingleton<JobStorage>(_ => OpenStorage(connectionString));
        services.AddSingleton<JobActivator>(provider => new AspNetCoreJobActivator(provider.GetRequiredService<IServiceScopeFactory>()));
        services.AddSingleton<LockJobs>();
        services.AddSingleton<RecordJobRuns>();
        services.AddSingleton<IJobFilterProvider, JobFilters>();
        services.AddHangfire((provider, hangfire) => hangfire
            .SetDataCompatibilityLevel(CompatibilityLevel.Version_180)
            .UseSimpleAssemblyNameTypeSerializer()
            .UseRecommendedSerializerSettings()
            .UseTypeResolver(FormerJobName.Resolver(provider.GetServices<FormerJobName>()))
            .UseStorage(provider.GetRequiredService<JobStorage>()));
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
    public static async Task MigrateJobsAsync(NpgsqlDataSource source, CancellationToken ct)
    {
        await using var connection = await source.OpenConnectionAsync(ct);
        PostgreSqlObjectsInstaller.Install(connection, Schema);
    }

    private static PostgreSqlStorage OpenStorage(string connectionString)
    {
        var options = new PostgreSqlStorageOptions
        {
            SchemaName = Schema,
            PrepareSchemaIfNecessary = false, // the migrate verb makes it
            QueuePollInterval = TimeSpan.FromSeconds(2),
            // A job whose worker was killed runs again after this long; a living worker keeps renewing it.
            InvisibilityTimeout = TimeSpan.FromMinutes(5),
            UseSlidingInvisibilityTimeout = true,
            // Hangfire's own locks are rows, held for moments; those of a killed process are in the way for this long.
            DistributedLockTimeout = TimeSpan.FromSeconds(30),
        };
        return new PostgreSqlStorage(new NpgsqlConnectionFactory(connectionString, options), options);
    }

    /// <summary>Whether this process runs jobs (setting <c>Role</c>).</summary>
    public static bool IsWorker(IConfiguration configuration) => configuration["Role"] switch
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
    public const string Mail = "mail";

    /// <summary>In order of preference.</summary>
    public static readonly string[] All = [Intake, Default, Mail];
}
