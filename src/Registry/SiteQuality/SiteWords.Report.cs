using System.Globalization;
using Registry.Infants.Counting;
using Registry.Rules.Quality;
using Registry.Rules.Statistics;

namespace Registry.SiteQuality;

/// <summary>What the page of a site that is printed says.</summary>
public static partial class SiteWords
{
    public static IEnumerable<(string Name, Proportion Own, Proportion Others)> Measures(ScreenCounts own, ScreenCounts others) =>
    [
        ("First test referred", own.FirstRefer, others.FirstRefer),
        ("Referred at discharge", own.Refer, others.Refer),
        ("Tests without a valid result", own.InvalidTests, others.InvalidTests),
        ("A valid result in both ears", own.BothEars, others.BothEars),
        ("Early for the method", own.EarlyFirst, others.EarlyFirst),
        ("Received later than 7 days", own.Of(ScreenFigure.Late), others.Of(ScreenFigure.Late)),
    ];

    /// <summary>Where the site does at least as well as the other sites, surely enough to say so: its interval reaches no worse.</summary>
    public static IReadOnlyList<string> GoodNews(ScreenCounts own, ScreenCounts others, int findings, DelayFigures delays)
    {
        List<string> news = [];
        if (findings == 0) news.Add("Nothing stands out beyond chance: no instrument, probe or screener is flagged.");
        if (own.BothEars.Wilson()?.Lower >= others.BothEars.Rate || own.BothEars.Rate >= 0.99)
            news.Add(Said("infants have a valid result in both ears", own.BothEars));
        if (own.InvalidTests.Wilson()?.Upper <= others.InvalidTests.Rate)
            news.Add(Said("tests gave no valid result, fewer than at the other sites", own.InvalidTests));
        if (own.EarlyFirst.Wilson()?.Upper <= others.EarlyFirst.Rate)
            news.Add(Said("infants were tested early for the method, fewer than at the other sites", own.EarlyFirst));
        if (delays is { Tests: >= DescribeDelays.FewestTests, SkipsSendings: false, NinthDecileDays: <= DescribeDelays.LateAfterDays })
            news.Add($"Nine in ten results were here within {Days(delays.NinthDecileDays)} of the test.");
        return news;
    }

    public static string LikeExplained(int others) =>
        $"Beside the {others} others of its care and volume, never itself, from the lowest rate of one of them to the highest; none is "
            + "named. Of the same level of care with half to twice as many infants, else the nearest (common practice, no source; the numbers are "
            + "ours). Not adjusted for case mix: flags are.";

    public static string Percent(Proportion rate) =>
        rate.ToPercent() is { } percent ? string.Create(CultureInfo.InvariantCulture, $"{percent:0.0} %") : "—";

    private static string Said(string what, Proportion rate) => string.Create(CultureInfo.InvariantCulture,
        $"{rate.Numerator:#,0} of {rate.Denominator:#,0} {what} ({rate.ToPercent():0.0} %).");
}
