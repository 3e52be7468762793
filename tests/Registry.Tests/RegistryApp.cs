using System.Globalization;
using Microsoft.AspNetCore.Hosting;
using Microsoft.AspNetCore.Mvc.Testing;
using Microsoft.EntityFrameworkCore;
using Microsoft.Extensions.DependencyInjection;
using Npgsql;
using Registry.Records;

namespace Registry.Tests;

/// <summary>
/// The whole program on a database of its own, with today pinned. The schema is migrated once a run and then copied.
/// Background jobs do not run by themselves (<c>Role</c> is <c>web</c>): a test calls what it tests.
/// </summary>
public sealed class RegistryApp : WebApplicationFactory<Program>
{
    /// <summary>The day every test lives in, unless it pins another.</summary>
    public static readonly DateOnly DefaultToday = new(2026, 11, 25);

    private static readonly SemaphoreSlim TemplateLock = new(1, 1);
    private static string? _template;

    private readonly Dictionary<string, string?> _settings;

    private RegistryApp(string connectionString, DateOnly today, IReadOnlyDictionary<string, string?>? settings)
    {
        ConnectionString = connectionString;
        Today = today;
        _settings = new(settings ?? new Dictionary<string, string?>())
        {
            ["ConnectionStrings:Registry"] = connectionString,
            ["Program:Today"] = today.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture),
        };
        _settings.TryAdd("Role", "web");
        _settings.TryAdd("Serilog:MinimumLevel:Default", "Warning");
    }

    public string ConnectionString { get; }

    public DateOnly Today { get; }

    public NpgsqlDataSource Source => Services.GetRequiredService<NpgsqlDataSource>();

    /// <summary>A running program on a fresh, migrated database.</summary>
    public static async Task<RegistryApp> StartAsync(
        TestDatabase database, DateOnly? today = null, IReadOnlyDictionary<string, string?>? settings = null)
    {
        var connectionString = await database.CreateFromTemplateAsync(await TemplateAsync(database));
        return new RegistryApp(connectionString, today ?? DefaultToday, settings);
    }

    /// <summary>The same program behind a real loopback port, for a browser.</summary>
    public static async Task<RegistryApp> ListenAsync(
        TestDatabase database, DateOnly? today = null, IReadOnlyDictionary<string, string?>? settings = null)
    {
        var app = await StartAsync(database, today, settings);
        app.UseKestrel(0);
        app.StartServer();
        return app;
    }

    /// <summary>Where a browser finds it, after <see cref="ListenAsync"/>.</summary>
    public string Address => ClientOptions.BaseAddress.ToString();

    /// <summary>A scope's own <see cref="RegistryDb"/>; dispose it.</summary>
    public RegistryDb OpenDb()
    {
        var options = new DbContextOptionsBuilder<RegistryDb>();
        options.UseNpgsql(Source).UseSnakeCaseNamingConvention();
        return new RegistryDb(options.Options);
    }

    protected override void ConfigureWebHost(IWebHostBuilder builder)
    {
        foreach (var (key, value) in _settings) builder.UseSetting(key, value);
    }

    private static async Task<string> TemplateAsync(TestDatabase database)
    {
        await TemplateLock.WaitAsync();
        try
        {
            if (_template is not null) return _template;
            var connectionString = await database.CreateDatabaseAsync();
            await using var app = new RegistryApp(connectionString, DefaultToday, null);
            await Verbs.MigrateAsync(app.Services, CancellationToken.None);
            await using (var connection = new NpgsqlConnection(connectionString)) NpgsqlConnection.ClearPool(connection);
            return _template = new NpgsqlConnectionStringBuilder(connectionString).Database!;
        }
        finally
        {
            TemplateLock.Release();
        }
    }
}
