using Registry.Records;
using Registry.Rules;
using Registry.Rules.Quality;
using Registry.Ui;

namespace Registry.SiteQuality;

/// <summary>What is said of how long results took.</summary>
public static partial class SiteWords
{
    public static string Arrival(DelayFigures d, int withinDays) =>
        $"Half of the results were here within {Days(d.MedianDays)} of the test, nine in ten within {Days(d.NinthDecileDays)}."
            + (d.IsLaterThan(withinDays)
                ? $" By agreement, or its own rhythm, nine in ten were to be here within {Words.Count(withinDays, "day")}." : "")
            + (d.SkipsSendings ? " The site sent others meanwhile: results are kept back." : "")
            + (d.SendsInBursts ? " Most came in bursts." : "");

    /// <summary>"half within 3 days".</summary>
    public static string HalfHere(int days) => days == 0 ? "half on the same day" : $"half within {Days(days)}";

    /// <summary>What is not measured of a place where nobody is born.</summary>
    public const string OfClinics =
        "Everything here is of tests before discharge. What a clinic tests later is in none of it: how late it comes, what is kept back "
        + "and bursts are not measured. Whether the clinic sends at all is.";

    /// <summary>Infants are born there: its tests before discharge are measured.</summary>
    public static bool HasBirths(Site site) => site.Kind is SiteKind.Hospital or SiteKind.BirthCenter or SiteKind.Midwife;

    public static string DelaysExplained(Policy policy) =>
        $"From the day of the test to the first submission that stated it. A sending passed a test by when the site sent results on at "
        + $"least {policy.SkippedSendings} days between: a site that sends once a week is measured by its weeks. A burst is a day "
        + $"that brought such tests of at least {policy.BurstTestDays} different days: kept in an instrument's memory and sent "
        + "together. Marked when more than one in ten were passed by, or more than half came in bursts, from "
        + $"{DescribeDelays.FewestTests} tests on: our own choice (common practice, no source). Results still kept back are not seen, so "
        + "the last days look better than they are.";

    /// <summary>"the same day", "3 days".</summary>
    public static string Days(int? days) => days switch
    {
        null => "—",
        0 => "the same day",
        _ => Words.Count(days.Value, "day"),
    };
}
