using System.Globalization;
using System.Text.RegularExpressions;

namespace Registry.Rules.Linkage;

/// <summary>One part of what somebody typed to find an infant, with everything it may mean.</summary>
/// <param name="Typed">As it was typed.</param>
public sealed partial record SearchTerm(string Typed)
{
    /// <summary>More than anybody needs.</summary>
    public const int MostTerms = 8;

    private const int FewestDigitsOfPhone = 7, MostDigitsOfPhone = 15;

    /// <summary>A word of a name.</summary>
    public string? Word { get; init; }

    /// <summary>A birth date; another one when day and month may have been swapped.</summary>
    public IReadOnlyList<DateOnly> Days { get; init; } = [];

    /// <summary>Digits of a telephone number, with and without the 1 in front.</summary>
    public IReadOnlyList<string> Phones { get; init; } = [];

    /// <summary>A record number or the number of a blood-spot card, as senders may write it.</summary>
    public IReadOnlyList<string> Numbers { get; init; } = [];

    /// <summary>The parts of a text, dates and telephone numbers that have spaces in them first.</summary>
    public static IReadOnlyList<SearchTerm> Read(string? typed)
    {
        var terms = new List<SearchTerm>();
        var rest = DayInWords().Replace(typed ?? "", m => Take(terms, OfDay(m.Value, InWords(m))));
        rest = PhoneInParts().Replace(rest, m => Take(terms, OfPhone(m.Value)));
        foreach (var part in rest.Split((char[]?)null, StringSplitOptions.RemoveEmptyEntries)) terms.AddRange(OfPart(part.Trim(',', ';')));
        return [.. terms.DistinctBy(t => t.Typed).Take(MostTerms)];
    }

    private static string Take(List<SearchTerm> terms, SearchTerm? term)
    {
        if (term is not null) terms.Add(term);
        return " ";
    }

    private static IEnumerable<SearchTerm> OfPart(string part)
    {
        if (!part.Any(char.IsAsciiDigit)) return SearchWords.Of(part).Select(w => new SearchTerm(w) { Word = w });
        var days = DaysOf(part);
        return
        [
            new SearchTerm(part)
            {
                Days = days,
                Phones = PhoneOnly().IsMatch(part) ? PhonesOf(part) : [],
                Numbers = [.. new[] { part, part.ToUpperInvariant(), part.ToLowerInvariant() }.Distinct()],
            },
        ];
    }

    private static SearchTerm? OfDay(string typed, List<DateOnly> days) => days.Count == 0 ? null : new(typed) { Days = days };

    private static SearchTerm OfPhone(string typed) => new(typed.Trim()) { Phones = PhonesOf(typed) };

    private static List<string> PhonesOf(string typed)
    {
        var digits = string.Concat(typed.Where(char.IsAsciiDigit));
        if (digits.Length is < FewestDigitsOfPhone or > MostDigitsOfPhone) return [];
        return digits[0] == '1' ? [digits, digits[1..]] : [digits, "1" + digits];
    }

    /// <summary>Year first, or month and day in either order with the year last.</summary>
    private static List<DateOnly> DaysOf(string part)
    {
        if (YearFirst().Match(part) is { Success: true, Groups: var first }) return Both(first[1].Value, first[2].Value, first[3].Value);
        return YearLast().Match(part) is { Success: true, Groups: var last } ? Both(last[3].Value, last[1].Value, last[2].Value) : [];
    }

    private static List<DateOnly> Both(string year, string month, string day)
    {
        var days = new List<DateOnly>(2);
        foreach (var (m, d) in new[] { (month, day), (day, month) })
        {
            if (DateOnly.TryParseExact($"{Full(year)}-{m.PadLeft(2, '0')}-{d.PadLeft(2, '0')}", "yyyy-MM-dd", CultureInfo.InvariantCulture,
                DateTimeStyles.None, out var read) && !days.Contains(read)) days.Add(read);
        }

        return days;
    }

    private static string Full(string year) => year.Length == 2 ? "20" + year : year;

    /// <summary>"3 November 2026", "Nov 3, 2026".</summary>
    private static List<DateOnly> InWords(Match match)
    {
        var month = Array.FindIndex(CultureInfo.InvariantCulture.DateTimeFormat.AbbreviatedMonthNames, m =>
            m.Length > 0 && match.Groups["month"].Value.StartsWith(m, StringComparison.OrdinalIgnoreCase)) + 1;
        return DateOnly.TryParseExact($"{match.Groups["year"].Value}-{month:00}-{match.Groups["day"].Value.PadLeft(2, '0')}", "yyyy-MM-dd",
            CultureInfo.InvariantCulture, DateTimeStyles.None, out var day) ? [day] : [];
    }

    [GeneratedRegex(@"^(\d{4})[-/.]?(\d{1,2})[-/.]?(\d{1,2})$")]
    private static partial Regex YearFirst();

    [GeneratedRegex(@"^(\d{1,2})[-/.](\d{1,2})[-/.](\d{4}|\d{2})$")]
    private static partial Regex YearLast();

    [GeneratedRegex(@"\b(?:(?<day>\d{1,2})\.?\s+(?<month>(?:Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec)[a-z]*)\.?|"
        + @"(?<month>(?:Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec)[a-z]*)\.?\s+(?<day>\d{1,2})),?\s+(?<year>\d{4})\b",
        RegexOptions.IgnoreCase | RegexOptions.CultureInvariant)]
    private static partial Regex DayInWords();

    /// <summary>Groups of digits with spaces, brackets or a plus between them; a date has none of these.</summary>
    [GeneratedRegex(@"(?<![\w-])(?:\+\d{1,3}[ -]?)?(?:\(\d{2,4}\) ?|\d{2,4} )\d{2,4}[ -]?\d{2,4}(?:[ -]\d{2,4})?(?![\w/-])")]
    private static partial Regex PhoneInParts();

    [GeneratedRegex(@"^\+?[\d().-]+$")]
    private static partial Regex PhoneOnly();
}
