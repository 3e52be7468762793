using System.Globalization;
using Registry.Infants.Counting;
using Registry.Rules.Quality;
using Registry.Rules.Statistics;

namespace Registry.SiteQuality;

/// <summary>What the page of a site that is printed says.</summary>
public static partial class SiteWords
{
    public static IEnumerable<(string Name, Proportion Own, Proportion Region)> Measures(ScreenCounts own, ScreenCounts region) =>
    [
        ("First test referred", own.FirstRefer, region.FirstRefer),
        ("Referred at discharge", own.Refer, region.Refer),
        ("Tests without a valid result", own.InvalidTests, region.InvalidTests),
        ("A valid result in both ears", own.BothEars, region.BothEars),
        ("Early for the method", own.EarlyFirst, region.EarlyFirst),
        ("Received later than 7 days", own.Of(ScreenFigure.Late), region.Of(ScreenFigure.Late)),
    ];

    /// <summary>Where the site does at least as well as the region, surely enough to say so: its interval reaches no worse.</summary>
    public static IReadOnlyList<string> GoodNews(ScreenCounts own, ScreenCounts region, int findings, DelayFigures delays)
    {
        List<string> news = [];
        if (findings == 0) news.Add("Nothing stands out beyond chance: no instrument, probe or screener is flagged.");
        if (own.BothEars.Wilson()?.Lower >= region.BothEars.Rate || own.BothEars.Rate >= 0.99)
            news.Add(Said("infants have a valid result in both ears", own.BothEars));
        if (own.InvalidTests.Wilson()?.Upper <= region.InvalidTests.Rate)
            news.Add(Said("tests gave no valid result, fewer than in the region", own.InvalidTests));
        if (own.EarlyFirst.Wilson()?.Upper <= region.EarlyFirst.Rate)
            news.Add(Said("infants were tested early for the method, fewer than in the region", own.EarlyFirst));
        if (delays is { Tests: >= DescribeDelays.FewestTests, SkipsSendings: false, NinthDecileDays: <= DescribeDelays.LateAfterDays })
            news.Add($"Nine in ten results were here within {Days(delays.NinthDecileDays)} of the test.");
        return news;
    }

    private static string Said(string what, Proportion rate) => string.Create(CultureInfo.InvariantCulture,
        $"{rate.Numerator:#,0} of {rate.Denominator:#,0} {what} ({rate.ToPercent():0.0} %).");
}
