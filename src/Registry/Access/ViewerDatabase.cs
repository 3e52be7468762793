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
    /// <summary>Tells the connection who reads; answers whether the viewer's site continues others.</summary>
    private const string Say =
        "select set_config('role', @role, false), "
            + "set_config('registry.viewer_site', coalesce(@viewer_site::text, ''), false), "
            + "set_config('registry.viewer_keys', @viewer_keys::text, false), "
            + "exists (select from site_heirs h where h.heir_id = @viewer_site and h.site_id <> h.heir_id)";

    private readonly Dictionary<ReaderView, (NpgsqlDataSource Source, string Role)> _views;

    /// <remarks>A pool for each view: a plan holds the policies it was made under, and is made anew by whoever is under others. Together
    /// they are not larger than the one the login names.</remarks>
    public ViewerDatabase(DatabaseLogins logins) => _views = Enum.GetValues<ReaderView>().ToDictionary(view => view, view =>
    {
        var reader = new NpgsqlDataSourceBuilder(logins.Reader).WithoutTypeLoading();
        var login = reader.ConnectionStringBuilder;
        // Both would let one viewer's connection be another's.
        login.NoResetOnClose = false;
        login.Multiplexing = false;
        // Planning what row security adds to a statement costs more than running it: a connection plans each once. A plan holds no viewer;
        // who it is, is read when it runs.
        login.MaxAutoPrepare = 200;
        login.AutoPrepareMinUsages = 2;
        login.MaxPoolSize = Math.Max(1, login.MaxPoolSize / (view == ReaderView.Site ? 2 : 4));
        return (reader.Build(), GrantRights.Role(login, view));
    });

    public async Task<NpgsqlConnection> OpenAsync(Viewer viewer, CancellationToken ct)
    {
        var view = viewer.IsCoordinator ? ReaderView.Region : viewer.Keys.Any() ? ReaderView.Keys : ReaderView.Site;
        var (connection, continues) = await OpenAsync(view, viewer, ct);
        if (view != ReaderView.Site || !continues) return connection;
        await connection.DisposeAsync();
        return (await OpenAsync(ReaderView.Keys, viewer, ct)).Connection;
    }

    private async Task<(NpgsqlConnection Connection, bool Continues)> OpenAsync(ReaderView view, Viewer viewer, CancellationToken ct)
    {
        var (source, role) = _views[view];
        var connection = await source.OpenConnectionAsync(ct);
        try
        {
            await using var say = new NpgsqlCommand(Say, connection);
            Visibility.Bind(say, viewer);
            say.Parameters.AddWithValue("role", role);
            await using var said = await say.ExecuteReaderAsync(ct);
            await said.ReadAsync(ct);
            return (connection, said.GetBoolean(3));
        }
        catch
        {
            await connection.DisposeAsync();
            throw;
        }
    }

    /// <summary>The same for EF.</summary>
    public async Task<RegistryDb> OpenDbAsync(Viewer viewer, CancellationToken ct) => RecordsSetup.On(await OpenAsync(viewer, ct));

    public async ValueTask DisposeAsync()
    {
        foreach (var (source, _) in _views.Values) await source.DisposeAsync();
    }
}
