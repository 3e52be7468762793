using Registry.Records;
using Registry.Rules.Quality;
using Registry.Ui;

namespace Registry.SiteQuality;

/// <summary>What silence says.</summary>
public static partial class SiteWords
{
    /// <summary>What the silence a site is allowed stands on.</summary>
    public static string Grounds(SiteRhythm rhythm)
    {
        if (rhythm.LastDay is null)
            return "infants are born here, and nothing was ever received" + (rhythm.DaysHere is { } here
                ? $" in the {Words.Count(here, "day")} since it was added or opened; {rhythm.ExpectedWithin} days are allowed" : "");
        var days = $"{Words.Count(rhythm.Days, "day")} with a submission in 400 days";
        return rhythm.Days < JudgeSilence.FewestDays
            ? $"only {days}, too few for a rhythm: {rhythm.ExpectedWithin} days are allowed"
            : $"{days}; from one to the next {Words.Count(rhythm.TypicalGap ?? 0, "day")} at the median and "
                + $"{Words.Count(rhythm.UsualGap ?? 0, "day")} at the 95th percentile; "
                + "allowed is the largest of the policy's days, so many times the latter and the days it agreed to send within";
    }

    public static string MostAreSilent(int sites) =>
        $"▲ {Words.Count(sites, "site")}, most of those that send, have been silent for longer than usual: look "
            + "at how results reach the registry before asking a site. Marked below is only who is far beyond the others.";

    public const string MostAreLate = "▲ Most sites' results came later than each agreed to: look at how results reach the registry before "
        + "asking a site. Marked is only who is far beyond the others.";

    public const string MostKeepBack =
        "▲ Most sites keep results back, or send them in bursts: look at how results reach the registry before asking a site. "
        + "Marked is only who is far beyond the others.";

    public const string StoppedOfToday =
        "Births or screens that have stopped are looked for today; as of a past day only silence as a whole is shown.";

    public const string MostFeedsAreSilent =
        "▲ One way of sending has fallen silent at most sites: look at how results reach the registry before asking a site. Marked is only "
        + "who is far beyond the others.";

    public static string InCell(FeedRhythm feed) => $"{Words.Of((Enum)feed.Format)} silent {Words.Count(feed.Silence, "day")}";

    public static string InCell(StoppedFacts stopped) => $"no {Kind(stopped)} since {Words.Date(stopped.LastDay)}";

    public static string InFull(StoppedFacts stopped) =>
        $"No {Kind(stopped)} since {Words.Date(stopped.LastDay)}: at the site's own number of infants a day about {stopped.Expected:0} "
            + "were to be expected since, those left out that may be on their way. Look whether the system that sends them still does.";

    public static string Of(FeedRhythm feed) => $"{Words.Of((Enum)feed.Format)}: last {Words.Date(feed.LastDay)}, "
        + Words.Count(feed.Days, "day") + " in 400" + (feed.Allowed is { } allowed
            ? $"; quiet for {Words.Count(feed.Silence, "day")}, allowed are {allowed}" : "; too few for a rhythm");

    private static string Kind(StoppedFacts stopped) => stopped.Kind == RowKind.Birth ? "birth" : "screen";
}
