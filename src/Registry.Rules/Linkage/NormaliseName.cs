using System.Text;

namespace Registry.Rules.Linkage;

/// <summary>
/// The form in which names are compared: compatibility decomposition (Unicode NFKD, UAX #15), then only letters and
/// digits, in upper case. Marks, punctuation, hyphens, apostrophes and spaces go, so that
/// <c>O'Brien-Núñez</c>, <c>OBRIEN NUNEZ</c> and <c>o’brien nuñez</c> are one name. Letters without a decomposition
/// (ø, ł, ß) stay themselves: two spellings that differ in them do not agree, they are never guessed.
/// </summary>
public static class NormaliseName
{
    /// <summary>The comparison form, or null when nothing is left (no letter or digit stated).</summary>
    public static string? Of(string? name)
    {
        if (string.IsNullOrEmpty(name)) return null;
        if (Ascii.IsValid(name)) return OfAscii(name);

        var decomposed = name.Normalize(NormalizationForm.FormKD);
        var text = new StringBuilder(decomposed.Length);
        foreach (var rune in decomposed.EnumerateRunes())
        {
            if (Rune.IsLetterOrDigit(rune)) text.Append(Rune.ToUpperInvariant(rune).ToString());
        }

        return text.Length == 0 ? null : text.ToString();
    }

    private static string? OfAscii(string name)
    {
        var buffer = name.Length <= 128 ? stackalloc char[128] : new char[name.Length];
        var length = 0;
        foreach (var c in name)
        {
            if (char.IsAsciiLetterOrDigit(c)) buffer[length++] = char.ToUpperInvariant(c);
        }

        return length == 0 ? null : new string(buffer[..length]);
    }
}
