using System.Text.Json.Serialization;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Rules.Linkage;

namespace Registry.Intake.Rows;

/// <summary>What became of one row: <c>accepted</c>, <c>unchanged</c>, <c>rejected</c>, <c>held</c> or <c>still_waiting</c>; why, when it
/// is rejected or held. It repeats no value of the row.</summary>
public sealed record RowReport(int Row, int Line, string? Kind, string Outcome, string? HeldReason, IReadOnlyList<Problem> Problems)
{
    /// <summary>The infant it is about; for pages, not part of the answer.</summary>
    [JsonIgnore] public InfantId? InfantId { get; init; }

    /// <summary>The row as it is kept (<see cref="RowContent"/>); for pages, not part of the answer.</summary>
    [JsonIgnore] public string? Content { get; init; }

    public static RowReport Of(
        int row, int line, RowKind? kind, RowOutcome outcome, HoldReason? hold, IReadOnlyList<Problem> problems) =>
        new(row, line, kind is { } k ? Codes.Of(k) : null, Codes.Of(outcome), hold is { } h ? Codes.Of(h) : null, problems);
}
