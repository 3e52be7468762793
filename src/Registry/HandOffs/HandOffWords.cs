using Registry.Records;
using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.HandOffs;

/// <summary>What pages and letters say of hand-offs.</summary>
public static class HandOffWords
{
    public const string Consent =
        "An early-intervention program is shown the child's name and birth date and how to reach the family, and nothing else, until the "
            + "family's written consent to the exchange is recorded (34 CFR 303.401(a)). Your program's counsel decides what the law "
            + "allows.";

    public const string NotADiagnosis = "A refer is not a diagnosis, and a pass does not exclude a later hearing loss.";

    public static string Of(HandOffKind kind) => kind switch
    {
        HandOffKind.Clinic => "Clinic or audiologist",
        HandOffKind.InterventionProgram => "Early-intervention program",
        HandOffKind.MedicalHome => "Medical home",
        _ => "Program of another state",
    };

    public static string Of(HandOffState state) => state switch
    {
        HandOffState.Sent => "Sent, not acknowledged yet",
        HandOffState.Received => "Received",
        HandOffState.Accepted => "Accepted",
        HandOffState.Returned => "Returned",
        _ => "Withdrawn",
    };

    public static string Of(HandOffAct act) => act switch
    {
        HandOffAct.Sent => "Sent",
        HandOffAct.Received => "Received",
        HandOffAct.Accepted => "Accepted",
        HandOffAct.Returned => "Returned",
        HandOffAct.Withdrawn => "Withdrawn",
        _ => "Written consent recorded",
    };

    /// <summary>What a button says that does it.</summary>
    public static string Button(HandOffAct act) => act switch
    {
        HandOffAct.Received => "Acknowledge",
        HandOffAct.Accepted => "Accept",
        HandOffAct.Returned => "Return",
        HandOffAct.Withdrawn => "Withdraw",
        _ => "Record the consent",
    };

    public static string Of(HandOffReason reason) => reason switch
    {
        HandOffReason.NotOurArea => "Not our area or age",
        HandOffReason.NoCapacity => "No appointment in time",
        HandOffReason.FamilyNotReached => "The family was not reached",
        HandOffReason.FamilyDeclined => "The family declined",
        HandOffReason.AlreadyElsewhere => "Already seen elsewhere",
        HandOffReason.WrongInfant => "It is about another infant",
        HandOffReason.SentByMistake => "Sent by mistake",
        _ => "Another reason",
    };

    /// <summary>A reason as a form sends it.</summary>
    public static HandOffReason? Read(string? code) => Codes.TryParse<HandOffReason>(code, out var reason) ? reason : null;

    public static string Of(HandOffAnswer answer) => answer switch
    {
        HandOffAnswer.Sent => "Handed off. It is work again if nobody acknowledges it in time.",
        HandOffAnswer.Recorded => "Recorded.",
        HandOffAnswer.Already => "It was sent before: there is one hand-off.",
        HandOffAnswer.ChooseSite => "Choose a clinic or program that takes infants on and is not your own.",
        HandOffAnswer.SayWho => "Say who it goes to.",
        HandOffAnswer.ConsentInTheFuture => "The day of the consent lies in the future.",
        HandOffAnswer.Stands => "The infant is handed to them already, and that stands.",
        HandOffAnswer.NotOpen => "It came back, was withdrawn, or was answered by somebody else meanwhile.",
        HandOffAnswer.SayWhy => "Choose a reason.",
        _ => "That was not understood. Nothing was recorded.",
    };

    public static string Told(HandOffLine line, HandOffStep step) => $"Hand-off to {line.To}: {Words.Within(Of(step.Act))}";

    public static string By(HandOffStep step) => string.Join(": ", new[]
    {
        step.Who ?? "by a link, without an account", step.Reason is { } why ? Words.Within(Of(why)) : null,
    }.OfType<string>());
}
