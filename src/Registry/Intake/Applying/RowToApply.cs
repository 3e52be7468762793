using Registry.Facts;
using Registry.Intake.Rows;
using Registry.Matching;
using Registry.Records;
using Registry.Rules.Linkage;

namespace Registry.Intake.Applying;

/// <summary>A checked row on its way to an infant.</summary>
/// <param name="RecordedAt">When we knew it: the moment its submission was received, or a waiting row was resolved.</param>
/// <param name="Decision">What a person decided about it, if one did.</param>
public sealed record RowToApply(
    SubmissionId SubmissionId, SiteId SiteId, int RowNumber, ReportedRow Row, DateTimeOffset RecordedAt, RowDecision? Decision = null)
{
    /// <summary>The infant a person chose.</summary>
    public Guid? Chosen => Decision?.InfantId;

    public Provenance Provenance => new(SubmissionId, RowNumber, SiteId, RecordedAt, Row.Kind, Row.Action);

    /// <summary>The row may make an infant: it states a birth.</summary>
    public bool StatesBirth => Row is { Kind: RowKind.Birth, Action: not RowAction.Retract };

    /// <summary>What it states about who it is.</summary>
    public StatedIdentity Stated => new(SiteId, Row.RecordNumber, Row.CardId, Row.Identity)
    {
        PriorRecordNumber = (Row.Fact as ReportedMerge)?.PriorRecordNumber,
    };
}

/// <summary>A person's decision about a held row: the infant it is about (then a contradiction is a correction), or,
/// with null and a birth row, that the infant is a new one.</summary>
/// <param name="InfantId">The infant; null: a new one.</param>
/// <param name="Beside">What it says stands beside what is recorded of the same thing: both happened.</param>
public sealed record RowDecision(Guid? InfantId, bool Beside = false);

/// <summary>What became of one row.</summary>
public readonly record struct AppliedRow(RowOutcome Outcome, Guid? InfantId, HoldReason? Hold = null, Problem? Problem = null)
{
    /// <summary>Applied on the strength of details, or of a row that was: kept, since it waits again when its candidates change.</summary>
    public bool Leans { get; init; }

    internal static AppliedRow Accepted(Guid infantId) => new(RowOutcome.Accepted, infantId);
    internal static AppliedRow Unchanged(Guid infantId) => new(RowOutcome.Unchanged, infantId);
    internal static AppliedRow Held(Guid? infantId, HoldReason reason) => new(RowOutcome.Held, infantId, reason);
    internal static AppliedRow Rejected(Guid? infantId, Problem problem) => new(RowOutcome.Rejected, infantId, null, problem);
}

/// <summary>What applying some rows did: an outcome for each, in their order, and the infants it touched.</summary>
public sealed record Applied(IReadOnlyList<AppliedRow> Rows, IReadOnlyCollection<Guid> Touched);
