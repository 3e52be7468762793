using Npgsql;
using Registry.Platform.EmbeddedPostgres;

namespace Registry.Platform.Database;

/// <summary>
/// Decides which database the service uses: the connection string <c>ConnectionStrings:Registry</c> when there is one,
/// else a private server started here (<see cref="EmbeddedServer"/>).
/// </summary>
public static class ChooseDatabase
{
    /// <summary>Chooses, starts if needed, and says in one line (no password) what was chosen and why.</summary>
    /// <param name="configuration">The host's configuration.</param>
    /// <param name="say">Receives lines meant for the operator.</param>
    /// <param name="ct">Gives up starting; a server already started is stopped again.</param>
    /// <exception cref="DatabaseStartException">No database could be had; the message says what to do.</exception>
    public static async Task<RunningDatabase> StartAsync(IConfiguration configuration, Action<string> say, CancellationToken ct)
    {
        ArgumentNullException.ThrowIfNull(configuration);
        ArgumentNullException.ThrowIfNull(say);

        var running = configuration.GetConnectionString("Registry") is { Length: > 0 } writer
            ? Configured(writer, configuration.GetConnectionString("RegistryReader"), configuration.GetConnectionString("RegistryOwner"))
            : await StartEmbeddedAsync(ReadOptions(configuration), say, ct);
        say(running.Description);
        return running;
    }

    private static DatabaseOptions ReadOptions(IConfiguration configuration) =>
        configuration.GetSection(DatabaseOptions.Section).Get<DatabaseOptions>() ?? new();

    private static RunningDatabase Configured(string writer, string? reader, string? owner)
    {
        var parsed = Parse("Registry", writer);
        if (reader is not { Length: > 0 })
            throw new DatabaseStartException(
                "ConnectionStrings:RegistryReader is not set. What is shown to people is read by a login of its own, which sees only the "
                    + "rows the viewer may see; the migrate verb makes it.");
        Parse("RegistryReader", reader);
        if (owner is { Length: > 0 }) Parse("RegistryOwner", owner);
        return new RunningDatabase(new(writer, reader, owner is { Length: > 0 } ? owner : null),
            $"Database: '{parsed.Database ?? parsed.Username}' on {parsed.Host}:{parsed.Port}, because ConnectionStrings:Registry is set.",
            server: null);
    }

    private static NpgsqlConnectionStringBuilder Parse(string name, string connectionString)
    {
        try
        {
            return new NpgsqlConnectionStringBuilder(connectionString);
        }
        catch (Exception error) when (error is ArgumentException or FormatException)
        {
            // The inner exception may quote the string, password and all; only its kind is passed on.
            throw new DatabaseStartException(
                $"ConnectionStrings:{name} cannot be read ({error.GetType().Name}). It should look like: "
                    + "Host=...;Port=5432;Database=registry;Username=...;Password=...");
        }
    }

    private static async Task<RunningDatabase> StartEmbeddedAsync(DatabaseOptions options, Action<string> say, CancellationToken ct)
    {
        if (!options.Embedded.Enabled)
        {
            throw new DatabaseStartException(
                "No database: ConnectionStrings:Registry is not set and Database:Embedded:Enabled is false. Set the connection string.");
        }
        var server = await EmbeddedServer.StartAsync(options.Embedded, say, ct);
        try
        {
            await server.CreateDatabaseIfMissingAsync(options.Name, ct);
        }
        catch
        {
            await server.DisposeAsync();
            throw;
        }
        return new RunningDatabase(DatabaseLogins.Beside(server.ConnectionString(options.Name)),
            $"Database: '{options.Name}' on {server.Description}, because ConnectionStrings:Registry is not set.", server);
    }
}
