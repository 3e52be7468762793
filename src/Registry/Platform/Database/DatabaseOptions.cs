namespace Registry.Platform.Database;

/// <summary>Which database the service uses; bound from the <c>Database</c> section.</summary>
/// <remarks>A connection string named <c>Registry</c> always wins over everything here.</remarks>
public sealed record DatabaseOptions
{
    /// <summary>The configuration section.</summary>
    public const string Section = "Database";

    /// <summary>Name of the database inside the embedded server; created when missing.</summary>
    public string Name { get; init; } = "registry";

    /// <summary>The private server used when no connection string is configured.</summary>
    public EmbeddedDatabaseOptions Embedded { get; init; } = new();
}

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

/// <summary>The database could not be started or reached; the message says why and what to do.</summary>
public sealed class DatabaseStartException : Exception
{
    /// <summary>With the reason alone.</summary>
    public DatabaseStartException(string message) : base(message) { }

    /// <summary>With the reason and its cause.</summary>
    public DatabaseStartException(string message, Exception? inner) : base(message, inner) { }

    /// <summary>Without a reason.</summary>
    public DatabaseStartException() { }
}
