using Registry.Rules.Linkage;

namespace Registry.Records;

public enum HeldResolution
{
    /// <summary>Applied by itself when the infant became known.</summary>
    Applied,

    /// <summary>A person said which infant it is.</summary>
    Matched,

    /// <summary>A person said it is not to be used.</summary>
    Discarded,

    /// <summary>A person changed its fields, and it was applied.</summary>
    Corrected,
}

/// <summary>
/// A row that waits: why, for whom it can be looked up, and how it ended. Beside <see cref="SubmissionRow"/> because
/// what waits is searched by identifier whenever an infant becomes known, and is worked through by people.
/// </summary>
public sealed class HeldRow
{
    public SubmissionId SubmissionId { get; init; }
    public int RowNumber { get; init; }
    public SiteId SiteId { get; init; }
    public RowKind Kind { get; init; }
    public HoldReason Reason { get; set; }
    public DateTimeOffset HeldAt { get; init; }
    public string? RecordNumber { get; init; }
    public string? CardId { get; init; }
    public DateOnly? BirthDate { get; init; }
    public string? MotherFamilyKey { get; init; }
    public DateOnly? MotherBornOn { get; init; }

    /// <summary>The infant it says something about, when that is certain and something else is not.</summary>
    public InfantId? InfantId { get; set; }

    /// <summary>It corrects or takes back what its site reported before.</summary>
    public bool Amends { get; init; }

    /// <summary>Of a merge of two numbers, the other number.</summary>
    public string? PriorRecordNumber { get; init; }

    /// <summary>Of a row that was applied and leans on details: a digest of the infants it was compared with (LeaningRows.sql). Such a row
    /// need never have waited. Null: it waits, or does not lean.</summary>
    public string? LeansOn { get; set; }
    public HeldResolution? Resolution { get; set; }
    public DateTimeOffset? ResolvedAt { get; set; }
    public Guid? ResolvedBy { get; set; }
}
