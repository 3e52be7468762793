namespace Registry.Platform.EmbeddedPostgres;

/// <summary>The private PostgreSQL server the service starts for itself; bound from <c>Database:Embedded</c>.</summary>
public sealed record EmbeddedDatabaseOptions
{
    /// <summary>Set to false where a missing connection string must stop the service instead.</summary>
    public bool Enabled { get; init; } = true;

    /// <summary>Where data, log, password and socket live. Empty: the user's data folder, see <see cref="DataFolder"/>.</summary>
    public string? DataFolder { get; init; }

    /// <summary>Folder with <c>bin/postgres</c> (or <c>postgres</c> itself). Empty: search, see <see cref="FindPostgresServer"/>.</summary>
    public string? ServerFolder { get; init; }

    /// <summary>Operating-system user the server runs as when the service runs as root. Empty: postgres, else nobody.</summary>
    public string? RunAs { get; init; }

    /// <summary>How long a start, recovery from a crash included, may take.</summary>
    public TimeSpan StartTimeout { get; init; } = TimeSpan.FromSeconds(60);
}
