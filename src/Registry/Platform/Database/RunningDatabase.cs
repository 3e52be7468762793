namespace Registry.Platform.Database;

/// <summary>A database ready for connections. Disposing stops the server if this process is its last user.</summary>
public sealed class RunningDatabase : IAsyncDisposable
{
    private readonly IAsyncDisposable? _server;

    internal RunningDatabase(DatabaseLogins logins, string description, IAsyncDisposable? server)
    {
        Logins = logins;
        Description = description;
        _server = server;
    }

    /// <summary>Passwords included: never log them.</summary>
    public DatabaseLogins Logins { get; }

    /// <summary>One line for people: which database and why. Holds no password.</summary>
    public string Description { get; }

    /// <inheritdoc/>
    public ValueTask DisposeAsync() => _server?.DisposeAsync() ?? ValueTask.CompletedTask;
}
