using System.Collections.Frozen;

namespace Registry.Platform;

/// <summary>
/// States of ISO 3166-2 (<c>States.tsv</c>): one code for each, whether it was stated as a code or by its name. Those of the United
/// States, whose law the rules follow, go by their two letters, as on letters and in HL7 messages; those of other countries by the whole
/// code.
/// </summary>
public static class States
{
    private const string Home = "US-";

    private static readonly IReadOnlyDictionary<string, string> Names = Read();

    private static readonly FrozenDictionary<string, string> ByCodeOrName = Names
        .SelectMany(s => IsHome(s.Key) ? [s.Key, Short(s.Key), s.Value] : (string[])[s.Key], (s, stated) => (stated, s.Key))
        .DistinctBy(s => s.stated, StringComparer.OrdinalIgnoreCase)
        .ToFrozenDictionary(s => s.stated, s => s.Key, StringComparer.OrdinalIgnoreCase);

    /// <summary>Names of the states of the United States, District of Columbia and outlying areas included, by name.</summary>
    public static IReadOnlyList<string> Near { get; } =
        [.. Names.Where(s => IsHome(s.Key)).Select(s => s.Value).Order(StringComparer.Ordinal)];

    /// <summary>The code of a state; the text as it was stated where it is none of these.</summary>
    public static string? CodeOf(string? stated) =>
        stated is not null && ByCodeOrName.TryGetValue(stated.Trim(), out var code) ? Short(code) : stated;

    /// <summary>The name of a state, stated by code or name; the text as it was stated where it is none of these.</summary>
    public static string? NameOf(string? stated) =>
        stated is not null && ByCodeOrName.TryGetValue(stated.Trim(), out var code) ? Names[code] : stated;

    private static bool IsHome(string code) => code.StartsWith(Home, StringComparison.Ordinal);

    private static string Short(string code) => IsHome(code) ? code[Home.Length..] : code;

    private static FrozenDictionary<string, string> Read()
    {
        using var stream = typeof(States).Assembly.GetManifestResourceStream("Registry.Platform.States.tsv")!;
        using var reader = new StreamReader(stream);
        var names = new Dictionary<string, string>();
        while (reader.ReadLine() is { } line)
            if (line.Split('\t') is [[>= 'A' and <= 'Z', ..] code, var name]) names.Add(code, name);
        return names.ToFrozenDictionary();
    }
}
