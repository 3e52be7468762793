using System.Text.RegularExpressions;
using Registry.Platform;
using Registry.Rules.Linkage;
using Registry.Ui;

namespace Registry.Infants.Find;

/// <summary>What a search says.</summary>
public static partial class FindWords
{
    public const string TooLong =
        "That is too long. Type at most 100 characters: a name, a birth date, a phone, a record number or a card.";
    public const string NoName = "Child without a name yet";
    public const string NotStated = "not stated";
    public const string NothingReadable =
        "Nothing that can be searched for was typed. Type a name, a birth date, a phone, a record number or a card.";

    public static RequestRefusedException TooMany(TimeSpan after) => new(StatusCodes.Status429TooManyRequests,
        "Too many searches in a minute", "Wait a moment, then search again.", Math.Max(1, (int)Math.Ceiling(after.TotalSeconds)));

    public static string Summary(FoundInfants found) => found switch
    {
        { Infants.Count: 0 } => "No infant was found",
        { AllButOne: true } => $"Nobody matches everything. {Words.Count(found.Infants.Count, "infant")} {Match(found)} all but one part",
        { More: true } => $"The best {found.Infants.Count} are shown, and there are more: add a birth date or another name",
        _ => $"{Words.Count(found.Infants.Count, "infant")} {Match(found)}",
    };

    /// <summary>How each part of what was typed was understood.</summary>
    public static IEnumerable<string> Tried(IEnumerable<SearchTerm> terms)
    {
        foreach (var term in terms)
        {
            var meant = new List<string>();
            if (term.Word is not null) meant.Add("a name, or one that is spelled or sounds like it");
            if (term.Days.Count > 0) meant.Add("born " + string.Join(" or ", term.Days.Select(d => Words.Date(d))));
            if (term.Phones.Count > 0) meant.Add("a phone");
            if (term.Numbers.Count > 0) meant.Add("a record number or a blood-spot card");
            yield return $"“{term.Typed}”: {(meant.Count == 0 ? "not understood" : string.Join("; ", meant))}";
        }
    }

    /// <summary>A name in pieces, and whether each is one of the words that matched.</summary>
    public static IEnumerable<(string Text, bool Matched)> Pieces(string name, IReadOnlySet<string> words) =>
        Word().Matches(name).Select(m => (m.Value, SearchWords.Of(m.Value).Any(words.Contains)));

    private static string Match(FoundInfants found) => found.Infants.Count == 1 ? "matches" : "match";

    [GeneratedRegex(@"[^\s\-‐]+|[\s\-‐]+")]
    private static partial Regex Word();
}
