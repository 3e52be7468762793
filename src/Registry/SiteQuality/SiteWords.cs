using System.Globalization;
using Registry.Infants.Counting;
using Registry.Rules.Facts;
using Registry.Rules.Quality;
using Registry.Rules.Statistics;
using Registry.Ui;

namespace Registry.SiteQuality;

/// <summary>What the pages of sites say.</summary>
public static partial class SiteWords
{
    public const string OnASmallScreen =
        "A small screen shows the main columns and whatever is marked; the page of a site has all of them.";

    public static string Of(ScreenGrouping grouping) => grouping switch
    {
        ScreenGrouping.Age => "Age at the test",
        ScreenGrouping.Hour => "Hour of the day",
        _ => Words.Of((Enum)grouping),
    };

    /// <summary>What is compared, several of them.</summary>
    public static string Several(ScreenGrouping grouping) => grouping switch
    {
        ScreenGrouping.Age => "Ages at the test",
        ScreenGrouping.Hour => "Hours of the day",
        _ => Words.Of((Enum)grouping) + "s",
    };

    public static string Counted(ScreenGrouping grouping, int lines) => grouping switch
    {
        ScreenGrouping.Age => Words.Count(lines, "age at a site", "ages at sites"),
        ScreenGrouping.Hour => Words.Count(lines, "hour at a site", "hours at sites"),
        _ => Words.Count(lines, Words.Of((Enum)grouping).ToLowerInvariant()),
    };

    public static string Of(CountedDay days) => days == CountedDay.Birth ? "birth" : "test";

    public static string Lead(CountedDay days, Period period) =>
        $"Screening before discharge, {Words.Date(period.From)} to {Words.Date(period.To)}, "
            + (days == CountedDay.Birth ? "by day of birth." : "by day of test; infants by the day of their first test at the site.");

    /// <summary>A unit as a line names it.</summary>
    public static string Unit(ScreenGrouping grouping, string unit) => unit.Length == 0 ? "not reported" : grouping switch
    {
        ScreenGrouping.Method => Words.Of(Codes.Parse<ScreeningMethod>(unit)),
        ScreenGrouping.Age => Ages(int.Parse(unit, CultureInfo.InvariantCulture)),
        ScreenGrouping.Hour => $"{unit}:00 to {unit}:59",
        _ => unit,
    };

    private static string Ages(int from) => Array.IndexOf(AgeBands.From, from) + 1 is var next && next < AgeBands.From.Length
        ? $"{from} to {AgeBands.From[next]} hours" : $"from {from} hours";

    /// <summary>What a point of a drawing says.</summary>
    public static string Point(string name, Proportion rate) => string.Create(CultureInfo.InvariantCulture,
        $"{name}: {rate.Numerator:#,0} of {rate.Denominator:#,0} ({rate.ToPercent():0.0} %)");

    public const string BornExplained =
        "Infants missed and refers lost to follow-up are of the infants born at the site, by day of birth, wherever they were tested. "
        + "Missed: no complete screen at the policy's deadline, of those whose deadline has passed; who died, moved or refused is in "
        + "neither. Lost to follow-up or documentation: at the diagnostic evaluation, of all who need one, most of them after a refer. "
        + "For a past day they are shown when its overview was computed.";

    /// <summary>Why a test has no valid result.</summary>
    public static string Reason(ScreenFigure reason) => reason switch
    {
        ScreenFigure.NoSeal => "no seal",
        ScreenFigure.Noise => "noise",
        _ => "other",
    };

    public const string Columns =
        "First test referred: infants with a refer in an ear's first valid result of their first session, of those with a valid result; "
        + "rescreens are not in it. Referred at discharge: infants whose last valid result at the site before discharge was a refer in at "
        + "least one ear, of those with a valid result. Both ears: a valid result in each, of infants tested. Early for the method: first "
        + "tested before the policy's earliest age; first 24 hours: of infants whose age is known. Received late: later than the "
        + "days the site agreed to, else the larger of the policy's and its own usual gap between sendings; by day of test, and of tests "
        + "before discharge: what a clinic tests later is not in it. "
        + "Intervals are Wilson 95 %. A flag says where to look, not who is at fault; the site's page says what it stands on. "
        + "No published benchmark exists for tests without a valid result; the comparison with the region is ours. "
        + "A refer is not a diagnosis; a pass does not exclude later "
        + "hearing loss.";

    /// <summary>What a list of tests shows, by its name in the URL.</summary>
    public static string Shown(string show) => show switch
    {
        "all" => "All tests",
        "infants" => "First test of each infant",
        "sessions" => "First valid results of first sessions",
        "first_refer" => "Refers of first sessions",
        "concluded" => "Last valid results",
        "both_ears" => "First test, both ears valid",
        "incomplete" => "First test, not both ears valid",
        "with_age" => "First test, age known",
        "first_day" => "First test, within 24 hours",
        "session_no_seal" => "First session, a test without a seal",
        "session_noise" => "First session, a test that ended in noise",
        "session_other_reason" => "First session, no valid result, another reason",
        "referred" => "Deciding refers",
        "referred_both" => "Deciding refers, both ears",
        "session_with_age" => "First session, age known, not in intensive care",
        "early_session" => "First session, early, not in intensive care",
        "rescreens" => "Rescreens, valid results",
        "rescreen_refer" => "Rescreens, refers",
        "refer" => "Refers",
        "pass" => "Passes",
        "no_valid_result" => "No valid result",
        "no_seal" => "No seal",
        "noise" => "Noise",
        "other_reason" => "No valid result, another reason",
        "early_first" => "First test, early",
        "compared" => "Compared with the criterion",
        "differs" => "Outcome and criterion differ",
        "pass_below_criterion" => "Pass, too few bands meet the criterion",
        "pass_with_too_few_bands" => "Pass, too few bands reported",
        "refer_meets_criterion" => "Refer, the bands meet the criterion",
        ClinicResults.All => "All it reported",
        "late" => LaterThanAgreed,
        "skipped" => "Passed by the site's sendings",
        "burst" => "Received in a burst",
        _ => show,
    };

    /// <summary>What stands against a line, in its cell.</summary>
    public static string InCell(QualityFinding f) => $"{Named(f)} since about {Words.Date(f.Named.OnsetOn)}";

    public static string InFull(QualityFinding f) =>
        $"{Titled(f)}: {(f.Above ? "more" : "fewer")} {Of(f.Measure)} than such infants explain";

    /// <summary>What a drawing of its weeks shows.</summary>
    public static string Weekly(QualityFinding f) => Titled(f) + ": " + f.Measure switch
    {
        SessionMeasure.Referred => "first tests that referred",
        SessionMeasure.NoSeal => "tests without a seal",
        SessionMeasure.Noise => "tests that ended in noise",
        SessionMeasure.OtherInvalid => "tests without a valid result for another reason",
        SessionMeasure.RescreenReferred => "rescreens that referred",
        _ => "first tests early for the method",
    };

    public static string WeeklyChart(QualityFinding f) =>
        $"{Weekly(f)}, per week by its Monday, with exact limits (0.135 % beyond each); the upright line is the onset, "
            + $"about {Words.Date(f.Named.OnsetOn)}; ▲ lies outside";

    /// <summary>What a flag of it counts.</summary>
    public static string Counted(SessionMeasure measure) =>
        measure == SessionMeasure.RescreenReferred ? "rescreens" : "first sessions";

    public static string WeeklyColumn(SessionMeasure measure) => measure switch
    {
        SessionMeasure.Referred => "First test referred",
        SessionMeasure.NoSeal => "No seal",
        SessionMeasure.Noise => "Noise",
        SessionMeasure.OtherInvalid => "No valid result, another reason",
        SessionMeasure.RescreenReferred => "Rescreen referred",
        _ => "Early for the method",
    };

    /// <summary>"5 Nov".</summary>
    public static string Tick(DateOnly day) => day.ToString("d MMM", CultureInfo.InvariantCulture);

    /// <summary>"5 Nov 2026: Probe P9: tip changed".</summary>
    public static string Of(ChartMark mark) => $"{Words.Date(mark.Day)}: {mark.Words}";

    /// <summary>What somebody did about a flag, with what the flag is of.</summary>
    public static string About(QualityFinding f, string said) => $"{Titled(f)}, {said}";

    /// <summary>"Done on 12 Sep 2026: Probe P9: tip changed."</summary>
    public static string Done(ChartMark mark) => $"Done on {Of(mark)}.";

    private static string Titled(QualityFinding f) => Capital(Named(f));

    private static string Of(SessionMeasure measure) => measure switch
    {
        SessionMeasure.Referred => "first tests that refer",
        SessionMeasure.NoSeal => "first sessions with a test without a seal",
        SessionMeasure.Noise => "first sessions with a test that ended in noise",
        SessionMeasure.OtherInvalid => "first sessions with a test without a valid result for another reason",
        SessionMeasure.RescreenReferred => "rescreens that refer",
        _ => "first tests before the policy's earliest age",
    };

    /// <summary>The tests behind a flag's counts: of the part it was raised with.</summary>
    public static string Behind(AsOf asOf, string site, QualityFinding f) =>
        asOf.Link($"/sites/{site}/tests", ("from", f.OnsetOn), ("to", f.FoundOn), ("show", Show(f.Measure)), ("by", Grouping(f.Cause)),
            ("unit", Grouping(f.Cause) is null ? null : f.Name), ("part", Part(f.Measure, f.Cause)));

    /// <summary>The times, or early tests, a flag is of; null where it names a unit, or is itself of how many are early.</summary>
    public static CauseKind? Part(SessionMeasure measure, CauseKind cause) =>
        measure != SessionMeasure.Early && TestsSql.Parts.Contains(cause) ? cause : null;

    /// <summary>The list that shows what was counted.</summary>
    private static string Show(SessionMeasure measure) => measure switch
    {
        SessionMeasure.Referred => "first_refer",
        SessionMeasure.NoSeal => "session_no_seal",
        SessionMeasure.Noise => "session_noise",
        SessionMeasure.OtherInvalid => "session_other_reason",
        SessionMeasure.RescreenReferred => "rescreen_refer",
        _ => "early_session",
    };

    /// <summary>How such a unit is listed; null for what is no unit.</summary>
    public static ScreenGrouping? Grouping(CauseKind cause) => cause switch
    {
        CauseKind.Instrument => ScreenGrouping.Instrument,
        CauseKind.Probe => ScreenGrouping.Probe,
        CauseKind.Screener => ScreenGrouping.Screener,
        _ => null,
    };

    public const string FindingsExplained =
        "Every night the first sessions of each site, instrument, probe and screener are compared with what infants of such age, method, "
        + "intensive care and gestation let expect in this region; the policy says how many false flags a year that may raise. The counts "
        + "are those of the night it was raised, and stay.";
}
