using Registry.Intake.Rows;
using Registry.Records;
using Registry.Rules.Linkage;

namespace Registry.Intake.HeldRows;

/// <summary>Why a row was not decided, or a decision about it not taken back.</summary>
public enum WhyRefused
{
    NoSuchRow,
    WaitsNoMore,
    ChangedSinceOpened,
    ChangedSinceChosen,
    CorrectItFirst,
    DoesNotStateIt,
    StatesItAlready,
    OnlyBirthsMakeInfants,
    NoSuchInfant,
    IdentifierKnown,
    InfantKnown,
    HappenedBeforeBirth,
    CannotApply,
    WouldStillWait,
    StillRejected,
    StillHeld,
    NothingToTakeBack,
    ChangedSinceDecision,
    OthersRestOnIt,
}

/// <summary>Why nothing was changed, with what there is to say about it.</summary>
public sealed record RowRefusal(WhyRefused Why)
{
    /// <summary>What happened to the row instead.</summary>
    public LastEvent? Since { get; init; }
    public Problem? Problem { get; init; }
    public HoldReason? Hold { get; init; }
}

/// <summary>What happened to a row last.</summary>
/// <param name="At">When.</param>
/// <param name="Change">What a person did; null when nobody did: it settled itself, or was sent again.</param>
/// <param name="Person">Who.</param>
/// <param name="SentAgain">It came back in a later submission.</param>
public sealed record LastEvent(DateTimeOffset? At, RowChangeKind? Change = null, string? Person = null, bool SentAgain = false);

/// <summary>Ends the transaction: nothing is changed.</summary>
internal sealed class RefusedException(RowRefusal refusal) : Exception(refusal.Why.ToString())
{
    public RefusedException(WhyRefused why) : this(new RowRefusal(why))
    {
    }

    public RowRefusal Refusal => refusal;
}
