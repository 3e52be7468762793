using System.Globalization;
using Registry.Rules.Quality;
using Registry.Ui;

namespace Registry.SiteQuality;

/// <summary>What the pages of sites say.</summary>
public static class SiteWords
{
    public const string Referred = "infants referred at discharge";
    public const string EarReferred = "valid tests of one ear referred";
    public const string WithoutResult = "tests without a valid result";

    public static string Of(ScreenGrouping grouping) => grouping == ScreenGrouping.Age ? "Age at the test" : Words.Of((Enum)grouping);

    /// <summary>What a list of tests shows, by its name in the URL.</summary>
    public static string Shown(string show) => show switch
    {
        "all" => "All tests",
        "referred" => "Deciding refers",
        "refer" => "Refers",
        "pass" => "Passes",
        "no_valid_result" => "No valid result",
        "no_seal" => "No seal",
        "noise" => "Noise",
        "early_first" => "First test, early",
        "compared" => "Compared with the criterion",
        "differs" => "Outcome and criterion differ",
        "pass_below_criterion" => "Pass, too few bands meet the criterion",
        "pass_with_too_few_bands" => "Pass, too few bands reported",
        "refer_meets_criterion" => "Refer, the bands meet the criterion",
        "late" => $"Received later than {DescribeDelays.LateAfterDays} days",
        "burst" => "Received in a burst",
        _ => show,
    };

    /// <summary>"5 h", "3.2 days".</summary>
    public static string Span(double? hours) => hours switch
    {
        null => "—",
        < 48 => string.Create(CultureInfo.InvariantCulture, $"{hours:0} h"),
        _ => string.Create(CultureInfo.InvariantCulture, $"{hours / 24:0.0} days"),
    };

    /// <summary>What the silence a site is allowed stands on.</summary>
    public static string Grounds(SiteRhythm rhythm)
    {
        if (rhythm.LastDay is null) return "infants are born here, and nothing was ever received";
        var days = $"{Words.Count(rhythm.Days, "day")} with a submission in 400 days";
        return rhythm.Days < SiteRhythm.FewestDays
            ? $"only {days}, too few for a rhythm: 30 days are allowed"
            : $"{days}; from one to the next {Words.Count(rhythm.TypicalGap ?? 0, "day")} at the median and "
                + $"{Words.Count(rhythm.UsualGap ?? 0, "day")} at the 95th percentile; "
                + "allowed is the larger of a week and twice the latter";
    }

    /// <summary>Why a site is flagged: a sentence for each rate that is too high.</summary>
    public static IEnumerable<string> Evidence(SiteLine line)
    {
        if (line.Refer.High) yield return Evidence(Referred, line.Refer);
        if (line.Invalid.High) yield return Evidence(WithoutResult, line.Invalid);
    }

    public static string Evidence(string what, RateComparison rate) => string.Create(CultureInfo.InvariantCulture,
        $"{rate.Observed.Numerator:#,0} of {rate.Observed.Denominator:#,0} {what} ({rate.Observed.ToPercent():0.0} %), "
            + $"region {rate.Target * 100:0.0} %, above the 99.8 % limit of {rate.UpperLimit * 100:0.0} % for its size");
}
