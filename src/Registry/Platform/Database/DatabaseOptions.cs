using Registry.Platform.EmbeddedPostgres;

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
