using System.Globalization;
using Registry.Intake.Rows;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.Claims;

/// <summary>What a person reads about claims and agreements.</summary>
public static class ClaimWords
{
    public const string TickFirst = "Tick the claims first.";
    public const string SayWhy = "Say in a few words why: the site reads it only from you.";
    public const string ChooseSites = "Choose two different sites.";
    public const string EndsAfterStart = "An agreement ends after it begins.";
    public const string AgreementStated = "The agreement is recorded. Reports that waited for it are applied within a minute.";
    public const string AgreementEnded = "The agreement ends today. What was reported under it stays.";
    public const string NoSuchAgreement = "There is no such agreement, or it has ended.";
    public const string SendsOn = "The site may send again.";
    public const string TakenBack = "Taken back: the claim waits again.";

    public static string Of(AgreementCovers covers) => covers switch
    {
        AgreementCovers.Referred => "Referred infants: a rescreen, an evaluation or intervention is due",
        _ => "Every infant",
    };

    public static string Of(ClaimVerdict verdict) => verdict switch
    {
        ClaimVerdict.Confirmed => "Confirmed",
        ClaimVerdict.Refused => "Refused",
        _ => "Taken back",
    };

    public static string Of(Field field) => Codes.Of(field).Replace('_', ' ');

    /// <summary>Why the reports were taken to mean the infant.</summary>
    public static string Agrees(Claim claim) => string.Join(", ", claim.Agrees.Select(Of)) is { Length: > 0 } agrees
        ? agrees : "details that have changed since";

    public static string Says(IReadOnlyList<(Field Field, string Value)> row) =>
        string.Join(" · ", row.Select(f => f.Field == Field.Kind && Codes.TryParse<RowKind>(f.Value, out var kind)
            ? Words.Of((Enum)kind) : $"{Of(f.Field)} {f.Value}"));

    /// <param name="verdict">What was said.</param>
    /// <param name="done">Of how many claims.</param>
    public static string Done(ClaimVerdict verdict, int done) => verdict == ClaimVerdict.Confirmed
        ? $"{Words.Count(done, "claim")} confirmed: what was reported counts from now on."
        : $"{Words.Count(done, "claim")} refused: what was reported is kept and does not count.";

    public static string NotDone(WhyNotDecided why, int claims) => string.Create(CultureInfo.InvariantCulture, $"{claims} not done: ")
        + why switch
        {
            WhyNotDecided.NothingHeld => "no longer waiting, or not yours to decide.",
            WhyNotDecided.NothingToTakeBack => "nothing was said that could be taken back.",
            _ => "the site has reported more about the infant since, or other reports rest on it. Settle those first.",
        };
}
