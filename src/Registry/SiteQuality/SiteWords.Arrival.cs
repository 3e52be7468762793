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

    /// <summary>What is measured of a place where nobody is born.</summary>
    public const string OfClinics =
        "Rates are of tests before discharge, and nobody is born here. Of all it reports, how long it takes, what is kept back and bursts "
        + "are measured; and whether it sends at all.";

    /// <summary>What the days of a clinic are of.</summary>
    public const string ResultsOfClinics = "All that was reported: tests of one ear, and evaluations, by the day they were made.";

    /// <summary>How many a list has: "12 tests of one ear"; of a clinic "12 tests and evaluations".</summary>
    public static string Listed(ListedTests listed, TestsAsked asked) => ClinicResults.Lists(listed.Site, asked.Show)
        ? Words.Count(listed.Tests, "test or evaluation", "tests and evaluations") : $"{Words.Count(listed.Tests, "test")} of one ear";

    /// <summary>What a list is of.</summary>
    public static string LeadOf(ListedTests listed, TestsAsked asked) => ClinicResults.Lists(listed.Site, asked.Show)
        ? $"Tests and evaluations reported, {Words.Date(asked.Period.From)} to {Words.Date(asked.Period.To)}, by the day they were made."
        : Lead(asked.Days, asked.Period);

    /// <summary>When a test was made; of an evaluation the day is known.</summary>
    public static string When(TestLine line) =>
        line.Method is null ? Words.Date(DateOnly.FromDateTime(line.PerformedAt)) : Words.Moment(line.PerformedAt);

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
