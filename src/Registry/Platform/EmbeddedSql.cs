using System.Collections.Concurrent;

namespace Registry.Platform;

/// <summary>SQL lives in a <c>.sql</c> file beside the class that runs it and is embedded under the same name.</summary>
public static class EmbeddedSql
{
    private static readonly ConcurrentDictionary<string, string> Texts = new();

    /// <summary>The text of <c>{name}.sql</c> beside <typeparamref name="T"/>.</summary>
    /// <exception cref="InvalidOperationException">No such file is embedded.</exception>
    public static string Of<T>(string? name = null) => Read(typeof(T), name ?? typeof(T).Name);

    public static string Read(Type beside, string name) => Texts.GetOrAdd($"{beside.Namespace}.{name}.sql", resource =>
    {
        using var stream = beside.Assembly.GetManifestResourceStream(resource)
            ?? throw new InvalidOperationException($"No embedded SQL named {resource}.");
        using var reader = new StreamReader(stream);
        return reader.ReadToEnd();
    });
}
