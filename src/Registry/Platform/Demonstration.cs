namespace Registry.Platform;

/// <summary>Whether this start is a demonstration: only then do the people and keys of the invented region get in, whose password is
/// public.</summary>
public sealed record Demonstration(bool IsOn)
{
    /// <summary><c>Demo:Enabled</c>, by default when the program runs on its own private database and nobody asked for that: whoever
    /// names it begins a registry of their own.</summary>
    public static Demonstration Of(IConfiguration configuration) =>
        new(configuration.GetValue<bool?>("Demo:Enabled")
            ?? (string.IsNullOrEmpty(configuration.GetConnectionString("Registry")) && !AsksForPrivateDatabase(configuration)));

    public static bool AsksForPrivateDatabase(IConfiguration configuration) =>
        configuration.GetValue<bool?>("Database:Embedded:Enabled") == true;
}
