using System.Globalization;
using Registry.Rules.Chance;
using Registry.Rules.Facts;
using Registry.Rules.Statistics;
using Registry.Rules.Work;
using Registry.Ui;

namespace Registry.FollowUp.Chance;

/// <summary>What is said of the chance of loss.</summary>
public static class ChanceWords
{
    public const string Lead =
        "How often infants with a step due were lost to follow-up some months later in this registry's own past, and whether the "
            + "chance that is told from it comes true. It may order calls within a kind of work. It hides nobody, decides nothing and says "
            + "nothing of a child's hearing.";

    public const string TooLittle =
        "No chance is told, and none is used. It is looked for in the night to every Sunday, in this registry's own past: either that "
            + "night has not come yet, or fewer than 100 infants lost to follow-up, or not lost, are known for long enough.";

    public const string Method =
        "Each infant is looked at on days 14, 30, 60, 90, 150 and 240 of life. If a step was due and it was not lost, that is a"
            + " case; it was lost to follow-up if, 180 days and the policy's days of grace later, the survey's rules count it so. A "
            + "logistic model is fitted to the cases: step, age, age at the first test, result of the screen, NICU, tries without an "
            + "answer, a missed appointment, number of phone numbers, county, a birth in another county, birth site, language, "
            + "interpreter, guardian, insurance. Race and ethnicity are not among them. Every figure here is of infants the fit had not "
            + "seen (ten-fold cross-validation by infant).";

    public const string Limits =
        "What happened by a day counts on it, also when it was reported later; what was recorded at birth counts as known that "
            + "day; what was told of the family, such as another phone number, counts from the day it was recorded. An infant counts at "
            + "each age it was looked at. A chance is of infants alike, not of one family, and what goes with "
            + "being lost to follow-up is not its cause.";

    public const string Unequal =
        "A group whose share lost to follow-up is far from what was expected is served worse or better by the chance than others. "
            + "Judge that before it is used. Groups with few lost to follow-up, or few not lost, are joined (policy: small count).";

    public static string Used(ShownChance shown) => (shown.History.Holds, shown.Policy.ChanceOfLossDays) switch
    {
        (true, > 0 and var days) => $"It is used: the work list moves an infant forward by {Words.Count(days, "day")} times its chance.",
        (true, _) => "It comes true well enough to be used. The policy does not use it: chance of loss to follow-up, 0 days forward.",
        (_, > 0) => "It is not used, although the policy asks for it: it does not come true well enough.",
        _ => "It is not used, and does not come true well enough to be.",
    };

    public static string Area(AreaUnderCurve area) => Said($"{area.Area:0.00} ({area.Interval().Lower:0.00}–{area.Interval().Upper:0.00})");

    public static string Slope(Calibration calibration)
    {
        var half = 1.96 * calibration.SlopeError;
        return Said($"{calibration.Slope:0.00} ({calibration.Slope - half:0.00}–{calibration.Slope + half:0.00})");
    }

    public static string Intercept(Calibration calibration)
    {
        var half = 1.96 * calibration.InterceptError;
        // A check that was kept before the error was has none.
        return Said($"{Plain(calibration.Intercept):0.00}")
            + (half > 0 ? Said($" ({Plain(calibration.Intercept - half):0.00} to {Plain(calibration.Intercept + half):0.00})") : "");

        static double Plain(double value) => Math.Round(value, 2) + 0.0; // no "-0.00"
    }

    public const string Plot = "The chance told beside the share that was lost to follow-up";
    public const string PlotUp = "Lost to follow-up, %";
    public const string PlotAcross = "Chance told, %";

    public const string PlotExplained =
        "Each point is a group of the table below, with the 95 % interval of its share. On the line the chance told is what came of it; "
            + "above it more were lost to follow-up than was told.";

    /// <summary>A group of the plot, in words.</summary>
    public static string Of(CalibrationGroup group)
    {
        var lost = new Proportion(group.Events, group.Cases);
        var (low, high) = (lost.Wilson()?.Lower, lost.Wilson()?.Upper);
        return Said($"told {100 * group.Expected / group.Cases:0.0} %, lost to follow-up {100 * lost.Rate:0.0} % ")
            + Said($"({100 * low:0.0} to {100 * high:0.0})");
    }

    public static string Expected(CalibrationGroup group) => Said($"{100 * group.Expected / group.Cases:0.0} %");

    /// <summary>A group as it was recorded.</summary>
    public static string Of(LossGroup group) => group.Level switch
    {
        null => "Smaller groups together",
        "not_recorded" => "Not recorded",
        _ when group.By == LossFactor.Language => Words.Language(group.Level) is { Length: > 0 } language ? language : group.Level,
        _ => group.Level,
    };

    public static string By(LossFactor? factor) => factor is { } by ? Words.Sentence(by.ToString()) : "Race and ethnicity";

    public static string Of(LossFactor factor) => factor switch
    {
        LossFactor.FirstTest => "age at the first test",
        LossFactor.Result => "result of the screen",
        LossFactor.Nicu => "NICU",
        LossFactor.Tries => "tries without an answer",
        LossFactor.NoShow => "missed an appointment",
        LossFactor.Phone => "fewer than two phone numbers",
        LossFactor.County => "county",
        LossFactor.OtherCounty => "born in another county",
        LossFactor.Site => "birth site",
        LossFactor.Language => "language",
        LossFactor.Insurance => "insurance",
        LossFactor.Interpreter => "interpreter needed",
        LossFactor.Guardian => "guardian or agency decides",
        LossFactor.Step => "step",
        _ => "age",
    };

    /// <summary>Why a row stands further forward: how many alike were lost, and what raises it.</summary>
    public static string Of(WorkReason reason)
    {
        var because = (reason.Because ?? "").Split(' ', StringSplitOptions.RemoveEmptyEntries)
            .Select(code => Codes.TryParse<LossFactor>(code, out var factor) ? Of(factor) : code).ToList();
        return Said($"of 100 alike about {reason.Percent} were lost to follow-up")
            + (because.Count == 0 ? "" : $": {string.Join(", ", because)}");
    }

    private static string Said(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);
}
