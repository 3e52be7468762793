using Registry.Platform.Jobs;
using Registry.PolicyVersions;
using Registry.Records;

namespace Registry;

/// <summary>
/// What the executable can do: <c>migrate</c> brings the database up to date and exits; without a verb it serves.
/// </summary>
public static class Verbs
{
    public static async Task<int> RunAsync(WebApplication app, string[] args)
    {
        using var stop = new CancellationTokenSource();
        Console.CancelKeyPress += (_, e) =>
        {
            e.Cancel = true;
            stop.Cancel();
        };

        switch (args.FirstOrDefault(a => !a.StartsWith('-')))
        {
            case "migrate":
                await MigrateAsync(app.Services, stop.Token);
                return 0;
            default:
                await app.RunAsync();
                return 0;
        }
    }

    /// <summary>Brings schema and starting policy up to date. Safe to repeat.</summary>
    public static async Task MigrateAsync(IServiceProvider services, CancellationToken cancel)
    {
        await using var scope = services.CreateAsyncScope();
        var applied = await MigrateDatabase.RunAsync(scope.ServiceProvider.GetRequiredService<RegistryDb>(), cancel);
        await JobsSetup.MigrateJobsAsync(services.GetRequiredService<Npgsql.NpgsqlDataSource>(), cancel);
        await services.GetRequiredService<PolicyStore>().EnsureDefaultAsync(cancel);
        Console.WriteLine(applied.Count == 0 ? "Database: up to date." : $"Database: applied {string.Join(", ", applied)}.");
    }
}
