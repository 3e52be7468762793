using System.Text;

namespace Registry.Rules.Linkage;

/// <summary>
/// The words of a name as they are searched for: compatibility decomposition (Unicode NFKD, UAX #15), no marks, no apostrophes, lower case,
/// split where spaces and hyphens are; letters that have no decomposition as those they are commonly written with in English. A search
/// finds more than a comparison may call the same (<see cref="NormaliseName"/>): a person looks at what was found.
/// </summary>
/// <remarks>The database says the same (<c>search_words_of</c>, Records/SearchWords.sql); a test holds the two against each
/// other.</remarks>
public static class SearchWords
{
    private const int Longest = 60;
    private const string Dropped = "'’‘`´.";
    private const string Apart = "-‐‑‒–—―,;:/\\()[]\"“”_+&";

    /// <summary>Each word once, in order.</summary>
    public static IReadOnlyList<string> Of(string? name)
    {
        var words = new List<string>();
        var (word, length) = (new StringBuilder(), 0);
        foreach (var rune in Decomposed(name).EnumerateRunes())
        {
            if (rune.Value is >= 0x300 and <= 0x36F) continue;
            if (Rune.IsWhiteSpace(rune) || Apart.Contains(rune.ToString(), StringComparison.Ordinal)) End();
            else if (length++ < Longest) word.Append(Plain(rune));
        }

        End();
        return words;

        void End()
        {
            var ended = word.ToString();
            word.Clear();
            length = 0;
            if (ended.Length > 0 && !words.Contains(ended)) words.Add(ended);
        }
    }

    private static string Decomposed(string? name)
    {
        if (string.IsNullOrEmpty(name)) return "";
        try
        {
            return string.Concat(name.Where(c => !Dropped.Contains(c, StringComparison.Ordinal))).Normalize(NormalizationForm.FormKD);
        }
        catch (ArgumentException)
        {
            return ""; // half of a surrogate pair is no letter of anybody's
        }
    }

    private static string Plain(Rune rune) => rune.Value switch
    {
        'ø' or 'Ø' => "o",
        'ł' or 'Ł' => "l",
        'đ' or 'Đ' or 'ð' or 'Ð' => "d",
        'ı' or 'İ' => "i",
        'ß' or 'ẞ' => "ss",
        'æ' or 'Æ' => "ae",
        'œ' or 'Œ' => "oe",
        'þ' or 'Þ' => "th",
        _ => Rune.ToLowerInvariant(rune).ToString(),
    };
}
