using System.Globalization;
using Registry.Rules.Quality;
using Registry.Rules.Statistics;
using Registry.Ui;

namespace Registry.SiteQuality;

/// <summary>What a measure opens: tests of the site, or infants born there.</summary>
public sealed record MeasureShown(string? Tests, (string, object?)[]? Infants = null);

/// <summary>What the page of a site that is printed says.</summary>
public static partial class SiteWords
{
    public static IEnumerable<(string Name, Proportion Own, Proportion Others, MeasureShown Show)> Measures(
        UnitLine site, ScreenCounts others, Proportion? othersLate, BirthFigures? born)
    {
        var own = site.Counts;
        yield return ("First test referred", own.FirstRefer, others.FirstRefer, new("first_refer"));
        yield return ("Referred at discharge", own.Refer, others.Refer, new("referred"));
        yield return ("Tests without a valid result", own.InvalidTests, others.InvalidTests, new("no_valid_result"));
        yield return ("A valid result in both ears", own.BothEars, others.BothEars, new("both_ears"));
        yield return ("Early for the method", own.EarlyFirst, others.EarlyFirst, new("early_first"));
        if (site.Late is { } late) yield return (LaterThanAgreed, late, othersLate ?? new(0, 0), new("late"));
        if (site.Births is not { } births || born is null) yield break;
        yield return ("Infants missed", births.Missed, born.Missed, new(null, BirthFigures.MissedQuery));
        yield return ("Refers lost to follow-up", births.Lost, born.Lost, new(null, BirthFigures.LostQuery));
    }

    /// <summary>What fits into a line beneath the table.</summary>
    public static string Beneath(ScreenCounts own, ScreenCounts others) => string.Create(CultureInfo.InvariantCulture,
        $"Attempts per ear {own.AttemptsPerEar:0.00}, other sites {others.AttemptsPerEar:0.00}; of the infants referred at discharge "
            + $"{own.BothOfReferred.Numerator:#,0} of {own.BothOfReferred.Denominator:#,0} in both ears. The last two: of infants born "
            + $"here, by day of birth, wherever they were tested.");

    /// <summary>Of fewer infants little would stand out, whatever was wrong. Own choice: some eight refers are expected of so
    /// many.</summary>
    public const int FewestForNothing = 100;

    /// <summary>Where the site does at least as well as the others, surely enough to say so: its interval reaches no worse.</summary>
    /// <param name="own">Of the site.</param>
    /// <param name="others">Of the other sites.</param>
    /// <param name="open">Flags of it that nobody closed, whether the last night found them or not.</param>
    /// <param name="delays">Of the site.</param>
    public static IReadOnlyList<string> GoodNews(ScreenCounts own, ScreenCounts others, int open, SiteDelays delays)
    {
        List<string> news = [];
        if (open == 0 && own.Infants >= FewestForNothing)
            news.Add("Nothing stands out beyond chance: no instrument, probe or screener is flagged.");
        if (own.BothEars.Wilson()?.Lower >= others.BothEars.Rate || own.BothEars.Rate >= 0.99)
            news.Add(Said("infants have a valid result in both ears", own.BothEars));
        if (own.InvalidTests.Wilson()?.Upper <= others.InvalidTests.Rate)
            news.Add(Said("tests gave no valid result, fewer than at the others", own.InvalidTests));
        if (own.EarlyFirst.Wilson()?.Upper <= others.EarlyFirst.Rate)
            news.Add(Said("infants were tested early for the method, fewer than at the others", own.EarlyFirst));
        if (delays.Site is { Tests: >= DescribeDelays.FewestTests, SkipsSendings: false, NinthDecileDays: { } days }
            && days <= delays.WithinDays)
            news.Add($"Nine in ten results were here within {Days(days)} of the test.");
        return news;
    }

    private static string Said(string what, Proportion rate) => string.Create(CultureInfo.InvariantCulture,
        $"{rate.Numerator:#,0} of {rate.Denominator:#,0} {what} ({rate.ToPercent():0.0} %).");

    public const string LetterSubject = "Monthly report of your site";

    /// <summary>A link, and nothing of a child: letters travel open.</summary>
    public static string Letter(string site, DateOnly month, string report) =>
        $"The hearing screening report of {site} for {month.ToString("MMMM yyyy", CultureInfo.InvariantCulture)} is there, on one page:\n\n"
            + $"{report}\n\nIt opens after you have signed in. There the letters can be stopped.\n";

    public static string Wish(bool wanted) => wanted
        ? "You are told each month by e-mail when this report is there: a link, nothing else."
        : "You can be told each month by e-mail when this report is there: a link, nothing else.";

    public static string Wished(bool wanted) => wanted ? "You will be written to at the beginning of each month." : "The letters stopped.";

    public static string Thanks(ScreenCounts own) => string.Create(CultureInfo.InvariantCulture,
        $"Thank you for the {own.Infants:#,0} infants tested in these days and the {own.Tests:#,0} results sent.");

    public static string Name(MissingResult line) => line.Mother.Length > 0 ? line.Mother
        : line.Child.Length > 0 ? line.Child : line.RecordNumber ?? "No name or number";

    /// <summary>"born 3 Oct 2026: rescreen, due 2 Nov 2026".</summary>
    public static string Beneath(MissingResult line) =>
        $"born {Words.Date(line.BornOn)}{(line.RecordNumber is { } number ? $", {number}" : "")}: "
            + $"{Words.Within(Words.Of(line.Step))}, due {Words.Date(line.DueOn)}";

    public static string Count(MissingResults missing) =>
        missing.AreMore ? $"more than {Words.Count(MissingResults.MostCounted)}" : Words.Count(missing.Count);

    public static string AfterMissing(MissingResults missing) => missing.Count == 0
        ? "None: of the infants born in the last year whose next step is this site's, nobody's is overdue."
        : missing.AreMore ? "The latest by name. " + MissingExplained
        : (missing.Count > missing.Lines.Count ? $"And {Words.Count(missing.Count - missing.Lines.Count)} more. " : "")
            + MissingExplained;

    private const string MissingExplained =
        "Born in the last year, the next step is this site's and overdue. A result that was sent since takes a name away.";
}
