using System.Text.Json.Serialization;
using Registry.Rules.Chance;
using Registry.Rules.Facts;

namespace Registry.Rules.Work;

/// <summary>Where an infant stands in the work of following up: in exactly one of these, by the order in <see cref="SortWork"/>.</summary>
public enum WorkTray
{
    CallToday,

    /// <summary>Tried, reached or put off, and to be called again on a later day.</summary>
    CallBack,
    AppointmentBooked,

    /// <summary>An appointment has passed, and what came of it is not known.</summary>
    ResultAwaited,
    SearchAgain,

    /// <summary>Seen again as planned, years after the screen too.</summary>
    Monitoring,

    /// <summary>Something is due, and it is too early to call about it.</summary>
    NotYet,

    /// <summary>Something is due, and somebody ended the work about it, with a reason. It can be opened again.</summary>
    Closed,
}

/// <summary>Why an infant was put off.</summary>
public enum PutOffReason { FamilyAsked, InHospital, FamilyAway, RecordsAwaited, OtherWork }

/// <summary>Somebody decided not to call before a day.</summary>
public readonly record struct PutOff(DateOnly Until, PutOffReason Reason);

/// <summary>What put an infant where it stands.</summary>
public enum WorkReasonKind
{
    /// <summary>A milestone can still be met until a day.</summary>
    MilestoneUntil,

    /// <summary>No milestone is ahead: the step is in time until a day.</summary>
    StepUntil,

    /// <summary>Nothing can be in time any more since a day.</summary>
    PassedOn,
    BothEars,
    Nicu,
    RiskIndicator,
    TriesWithoutAnswer,
    NoShow,
    LastTry,
    CallAgain,
    PutOff,
    AppointmentOn,
    AppointmentPassed,

    /// <summary>Handed off, and its receipt is in time to a day.</summary>
    HandedOff,

    /// <summary>Handed off, and received on a day.</summary>
    HandOffAcknowledged,

    /// <summary>Handed off, and nothing was heard to the day it was asked for.</summary>
    NotAcknowledged,

    /// <summary>Lost to follow-up or documentation.</summary>
    Search,

    /// <summary>Searched for, and searched for again on a day.</summary>
    SearchedFor,

    /// <summary>A search on a day brought a way to reach the family, and nobody tried it.</summary>
    ContactFound,

    /// <summary>The work was closed on a day.</summary>
    Closed,
    /// <summary>Likely to be lost, by the registry's own history.</summary>
    ChanceOfLoss,
}

/// <param name="Kind">What it is.</param>
/// <param name="On">Its day.</param>
/// <param name="Days">By how many days it moves the infant: forward when positive.</param>
/// <param name="Percent">The chance of loss.</param>
/// <param name="Because">What raises it most: codes of <see cref="LossFactor"/>.</param>
public readonly record struct WorkReason(
    WorkReasonKind Kind,
    [property: JsonIgnore(Condition = JsonIgnoreCondition.WhenWritingNull)] DateOnly? On = null,
    [property: JsonIgnore(Condition = JsonIgnoreCondition.WhenWritingDefault)] int Days = 0,
    [property: JsonIgnore(Condition = JsonIgnoreCondition.WhenWritingDefault)] int Percent = 0,
    [property: JsonIgnore(Condition = JsonIgnoreCondition.WhenWritingNull)] string? Because = null);

/// <summary>One infant's place in the work of a day.</summary>
/// <param name="Tray">The one it is in.</param>
/// <param name="Step">What the call is about.</param>
/// <param name="DueOn">The last day the step is in time.</param>
/// <param name="Rank">The order within a tray, lowest first. Made of days, not of a distance to today: it changes only when a fact or
/// <paramref name="ChangesOn"/> comes.</param>
/// <param name="Reasons">Why it stands there.</param>
/// <param name="ChangesOn">The first later day on which the place would differ with no new fact.</param>
public sealed record WorkPlace(
    WorkTray Tray, DueStep Step, DateOnly DueOn, long Rank, IReadOnlyList<WorkReason> Reasons, DateOnly? ChangesOn)
{
    /// <summary>Which step of the path a due step belongs to.</summary>
    public static PathStep PathOf(DueStep? step) => step switch
    {
        DueStep.Screen or DueStep.CompleteScreen or DueStep.Rescreen or DueStep.RepeatScreen or DueStep.AbrScreen or DueStep.CmvTest
            or DueStep.HandOff or null => PathStep.Screening,
        DueStep.DiagnosticEvaluation or DueStep.CompleteDiagnosis or DueStep.MiddleEarReevaluation or DueStep.SurveillanceEvaluation
            or DueStep.Monitoring => PathStep.Diagnosis,
        _ => PathStep.Intervention,
    };
}
