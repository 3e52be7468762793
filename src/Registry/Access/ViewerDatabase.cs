using Npgsql;
using Registry.Platform.Database;
using Registry.Records;

namespace Registry.Access;

/// <summary>
/// Connections that read what one viewer may see and nothing else: a login that writes nothing, on tables whose row security asks who the
/// viewer is. What shows infants reads by these; a query that forgets <see cref="Visibility.Where"/> still finds nothing foreign.
/// </summary>
/// <remarks>Who the viewer is, is said to the database anew whenever a connection is opened, before anything else can be asked; a
/// connection that comes back to the pool forgets it, and one that was told nothing sees nothing.</remarks>
public sealed class ViewerDatabase : IAsyncDisposable
{
    private const string Say =
        "select set_config('registry.viewer_sees_all', @viewer_sees_all::text, false), "
            + "set_config('registry.viewer_site', coalesce(@viewer_site::text, ''), false), "
            + "set_config('registry.viewer_keys', @viewer_keys::text, false)";

    private readonly NpgsqlDataSource _source;

    public ViewerDatabase(DatabaseLogins logins)
    {
        var reader = new NpgsqlDataSourceBuilder(logins.Reader);
        // Both would let one viewer's connection be another's.
        reader.ConnectionStringBuilder.NoResetOnClose = false;
        reader.ConnectionStringBuilder.Multiplexing = false;
        // Planning what row security adds to a statement costs more than running it: a connection plans each once. A plan holds no viewer;
        // who it is, is read when it runs.
        reader.ConnectionStringBuilder.MaxAutoPrepare = 200;
        reader.ConnectionStringBuilder.AutoPrepareMinUsages = 2;
        _source = reader.Build();
    }

    public async Task<NpgsqlConnection> OpenAsync(Viewer viewer, CancellationToken ct)
    {
        var connection = await _source.OpenConnectionAsync(ct);
        try
        {
            await using var say = new NpgsqlCommand(Say, connection);
            Visibility.Bind(say, viewer);
            await say.ExecuteNonQueryAsync(ct);
            return connection;
        }
        catch
        {
            await connection.DisposeAsync();
            throw;
        }
    }

    /// <summary>The same for EF.</summary>
    public async Task<RegistryDb> OpenDbAsync(Viewer viewer, CancellationToken ct) => RecordsSetup.On(await OpenAsync(viewer, ct));

    public ValueTask DisposeAsync() => _source.DisposeAsync();
}
