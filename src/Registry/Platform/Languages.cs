using System.Collections.Frozen;
using System.Globalization;

namespace Registry.Platform;

/// <summary>Languages of ISO 639 (<c>Languages.tsv</c>): one code for each, of two letters where it has one, whether it was stated as a
/// code or by its English name.</summary>
public static class Languages
{
    private static readonly IReadOnlyList<(string Code, string[] Others, string[] Names)> Lines = [.. Read()];

    private static readonly FrozenDictionary<string, string> ByCodeOrName = Index();

    /// <summary>Every language with its name, by name.</summary>
    public static IReadOnlyList<(string Code, string Name)> All { get; } =
        [.. Lines.Select(l => (l.Code, NameOf(l.Code)!)).OrderBy(l => l.Item2, StringComparer.OrdinalIgnoreCase)];

    /// <summary>The code of a language; the text as it was stated where it is none of these.</summary>
    public static string? CodeOf(string? stated) =>
        stated is not null && ByCodeOrName.TryGetValue(stated.Trim(), out var code) ? code : stated;

    /// <summary>Every way to state the same language, in small letters; the text itself where it is none of these.</summary>
    public static string[] SpellingsOf(string stated)
    {
        var code = CodeOf(stated)!;
        var line = Lines.FirstOrDefault(l => l.Code == code);
        return line.Code is null ? [stated.ToLowerInvariant()]
            : [.. line.Others.Concat(line.Names).Append(code).Append(NameOf(code)!).Select(s => s.ToLowerInvariant()).Distinct()];
    }

    /// <summary>The name of a language, stated by code or name; the text as it was stated where it is none of these.</summary>
    public static string? NameOf(string? stated)
    {
        if (stated is null || !ByCodeOrName.TryGetValue(stated.Trim(), out var code)) return stated;
        return CommonName(code) ?? Lines.First(l => l.Code == code).Names[0];
    }

    /// <summary>As the runtime's locale data names it, which is how people do; null where it has no such locale.</summary>
    private static string? CommonName(string code)
    {
        try
        {
            return CultureInfo.GetCultureInfo(code, predefinedOnly: true).EnglishName;
        }
        catch (CultureNotFoundException)
        {
            return null;
        }
    }

    private static FrozenDictionary<string, string> Index()
    {
        var found = new Dictionary<string, string>(StringComparer.OrdinalIgnoreCase);
        foreach (var (code, others, names) in Lines)
            foreach (var key in (string[])[code, .. others]) found.TryAdd(key, code);
        // A name never hides a code.
        foreach (var (code, _, names) in Lines)
            foreach (var name in (string[])[.. names, CommonName(code) ?? names[0]]) found.TryAdd(name, code);
        return found.ToFrozenDictionary(StringComparer.OrdinalIgnoreCase);
    }

    private static IEnumerable<(string, string[], string[])> Read()
    {
        using var stream = typeof(Languages).Assembly.GetManifestResourceStream("Registry.Platform.Languages.tsv")!;
        using var reader = new StreamReader(stream);
        while (reader.ReadLine() is { } line)
        {
            if (line.Length == 0 || line[0] == '#') continue;
            var cells = line.Split('\t');
            yield return (cells[0], [.. cells[1..3].Where(c => c.Length > 0)],
                cells[3].Split(';', StringSplitOptions.TrimEntries | StringSplitOptions.RemoveEmptyEntries));
        }
    }
}
