namespace Registry.Platform.EmbeddedPostgres;

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
