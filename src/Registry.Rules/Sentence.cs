using System.Globalization;
using System.Text;

namespace Registry.Rules;

/// <summary>
/// A sentence kept as its pattern and up to three numbers, turned into text only when someone reads it: evaluating a
/// region allocates no text. In a pattern <c>{0}</c> is a number, <c>{0:d}</c> a date (stored as its day number).
/// </summary>
public readonly struct Sentence(string pattern, int a = 0, int b = 0, int c = 0) : IEquatable<Sentence>
{
    private readonly string? _pattern = pattern;
    private readonly int _a = a, _b = b, _c = c;

    public Sentence(string pattern, int a, DateOnly b) : this(pattern, a, b.DayNumber)
    {
    }

    /// <summary>The text; dates in ISO 8601.</summary>
    public override string ToString()
    {
        var pattern = _pattern ?? "";
        if (!pattern.Contains('{')) return pattern;
        var text = new StringBuilder(pattern.Length + 24);
        for (var i = 0; i < pattern.Length; i++)
        {
            if (pattern[i] != '{')
            {
                text.Append(pattern[i]);
                continue;
            }

            var value = pattern[i + 1] switch { '0' => _a, '1' => _b, _ => _c };
            if (pattern[i + 2] == ':') text.Append(DateOnly.FromDayNumber(value).ToString("yyyy-MM-dd", CultureInfo.InvariantCulture));
            else text.Append(value.ToString(CultureInfo.InvariantCulture));
            i = pattern.IndexOf('}', i);
        }

        return text.ToString();
    }

    public bool Equals(Sentence other) =>
        ReferenceEquals(_pattern, other._pattern) && _a == other._a && _b == other._b && _c == other._c
        || !ReferenceEquals(_pattern, other._pattern) && ToString() == other.ToString();

    public override bool Equals(object? obj) => obj is Sentence other && Equals(other);
    public override int GetHashCode() => ToString().GetHashCode(StringComparison.Ordinal);
    public static bool operator ==(Sentence left, Sentence right) => left.Equals(right);
    public static bool operator !=(Sentence left, Sentence right) => !left.Equals(right);
}
