using System.Globalization;
using System.Text;

namespace Registry.Rules.Facts;

/// <summary>
/// The one spelling of every coded value: the enum member's name in snake case, used alike in the database,
/// in CSV and JSON, in URLs and in tests (<c>NoValidResult</c> ↔ <c>no_valid_result</c>).
/// </summary>
public static class Codes
{
    /// <summary>The code of <paramref name="value"/>. Never allocates after the first use of the type.</summary>
    public static string Of<T>(T value) where T : struct, Enum => Table<T>.Names[value];

    /// <summary>Reads a code, ignoring case; false when it is not one of <see cref="All{T}"/>.</summary>
    public static bool TryParse<T>(ReadOnlySpan<char> code, out T value) where T : struct, Enum =>
        Table<T>.Lookup.TryGetValue(code.Trim(), out value);

    /// <summary>Reads a code known to be valid (one we stored ourselves).</summary>
    /// <exception cref="FormatException">The text is not a code of <typeparamref name="T"/>.</exception>
    public static T Parse<T>(ReadOnlySpan<char> code) where T : struct, Enum =>
        TryParse<T>(code, out var value)
            ? value
            : throw new FormatException($"'{code}' is not one of: {string.Join(", ", All<T>())}.");

    /// <summary>Every code of <typeparamref name="T"/>, in declaration order.</summary>
    public static IReadOnlyCollection<string> All<T>() where T : struct, Enum => Table<T>.Names.Values;

    private static string ToSnakeCase(string name)
    {
        var text = new StringBuilder(name.Length + 8);
        for (var i = 0; i < name.Length; i++)
        {
            if (i > 0 && char.IsUpper(name[i])) text.Append('_');
            text.Append(char.ToLower(name[i], CultureInfo.InvariantCulture));
        }

        return text.ToString();
    }

    private static class Table<T> where T : struct, Enum
    {
        public static readonly Dictionary<T, string> Names =
            Enum.GetValues<T>().ToDictionary(v => v, v => ToSnakeCase(v.ToString()));

        public static readonly Dictionary<string, T>.AlternateLookup<ReadOnlySpan<char>> Lookup =
            Names.ToDictionary(p => p.Value, p => p.Key, StringComparer.OrdinalIgnoreCase)
                .GetAlternateLookup<ReadOnlySpan<char>>();
    }
}
