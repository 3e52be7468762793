using Registry.Records;

namespace Registry.Intake.Rows;

/// <summary>What became of one row: <c>accepted</c>, <c>unchanged</c>, <c>rejected</c> or <c>held</c>; why, when it is one of the
/// last two. It repeats no value of the row.</summary>
public sealed record RowReport(int Row, int Line, string? Kind, string Outcome, string? HeldReason, IReadOnlyList<Problem> Problems)
{
    [System.Text.Json.Serialization.JsonIgnore] public InfantId? InfantId { get; init; }
    [System.Text.Json.Serialization.JsonIgnore] public string? Content { get; init; }
}
