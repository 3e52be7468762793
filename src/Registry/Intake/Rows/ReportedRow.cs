using Registry.Facts;
using Registry.Records;
using Registry.Rules.Linkage;

namespace Registry.Intake.Rows;

/// <summary>A row that passed its checks: who it is about, and what it says.</summary>
public sealed class ReportedRow
{
    public required RowKind Kind { get; init; }
    public RowAction Action { get; init; }
    public string? RecordNumber { get; init; }
    public string? CardId { get; init; }
    public OnlyIfUnknown OnlyIfUnknown { get; init; }

    /// <summary>Where a vital-records office says the infant was born; null: at the site that reports.</summary>
    public Guid? BirthSiteId { get; init; }
    public required Identity Identity { get; init; }

    /// <summary>What is stated; for a retraction only what names it (<see cref="CompareFacts.Names"/>).</summary>
    public required ReportedFact Fact { get; init; }
}

/// <summary>Identifiers of a birth row of which none may be known yet: if one is, the row changes nothing (a conditional create).</summary>
[Flags]
public enum OnlyIfUnknown
{
    None = 0,
    RecordNumber = 1,
    CardId = 2,
}

/// <summary>The condition of a conditional create, where a problem names it.</summary>
public static class OnlyIfField
{
    public const string Name = "if_none_exist";
}
