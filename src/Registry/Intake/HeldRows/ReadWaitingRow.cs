using Npgsql;
using Registry.Intake.Applying;
using Registry.Intake.Rows;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;
using Registry.Rules.Linkage;

namespace Registry.Intake.HeldRows;

/// <summary>A row that waits for a person, or waited: as it is kept, how it stands, and who did what with it.</summary>
/// <param name="Discarded">Rejected, and waits for nobody.</param>
/// <param name="SentAgainAs">The row that came back in its place: <c>submission/rows/row</c>.</param>
/// <param name="SettledItself">It waited until <paramref name="ResolvedAt"/>, and nobody decided.</param>
public sealed record WaitingRow(
    HeldContent Content, string SiteName, RowOutcome Outcome, HoldReason? Reason, DateTimeOffset? ResolvedAt, InfantId? InfantId,
    bool Discarded, bool SettledItself, RowKind? Kind, string? SentAgainAs)
{
    /// <summary>What is wrong with it.</summary>
    public IReadOnlyList<Problem> Problems { get; init; } = [];

    /// <summary>Its history, oldest first.</summary>
    public IReadOnlyList<RowChangeLine> Changes { get; init; } = [];

    /// <summary>What it states.</summary>
    public IReadOnlyDictionary<Field, string> Stated { get; } = RowContent.Fields(Content.Content);

    public bool IsHeld => Outcome == RowOutcome.Held;
    public bool Waits => IsHeld || (Outcome == RowOutcome.Rejected && !Discarded);

    /// <summary>Nobody need decide: it waits for something that may come.</summary>
    public bool SettlesItself => IsHeld
        && Reason is HoldReason.NoSuchInfant or HoldReason.NothingRecorded or HoldReason.OthersRestOnIt or HoldReason.AwaitsConfirmation;

    public long LastChange => Changes.Count == 0 ? 0 : Changes[^1].Id;

    /// <summary>The decision that can be taken back.</summary>
    public RowChangeLine? LastDecision => Changes.LastOrDefault(
        c => c.Kind != RowChangeKind.TakenBack && !Changes.Any(later => later.TakesBack == c.Id));
}

/// <summary>Reads one held or rejected row. Whether the caller may see it is asked by the caller.</summary>
public sealed class ReadWaitingRow(NpgsqlDataSource source, ReadRowChanges changes)
{
    /// <returns>Null when there is no such row, or it was never held nor rejected.</returns>
    public async Task<WaitingRow?> RunAsync(SubmissionId id, int row, CancellationToken ct) =>
        await ReadAsync(id, row, ct) is { } found
            ? found with { Changes = await changes.RunAsync(id, row, found.Content.Content, ct) } : null;

    private async Task<WaitingRow?> ReadAsync(SubmissionId id, int row, CancellationToken ct)
    {
        await using var command = source.CreateCommand(EmbeddedSql.Of<ReadWaitingRow>());
        command.Parameters.AddWithValue(id.Value);
        command.Parameters.AddWithValue(row);
        await using var r = await command.ExecuteReaderAsync(ct);
        if (!await r.ReadAsync(ct)) return null;
        return new(
            HeldContent.Read(r), r.GetString(7), r.Code<RowOutcome>(8), r.CodeOrNull<HoldReason>(9), r.ValueOrNull<DateTimeOffset>(10),
            r.IsDBNull(11) ? null : new InfantId(r.GetGuid(11)), r.GetBoolean(12), r.ValueOrNull<bool>(13) == true,
            r.CodeOrNull<RowKind>(14), r.TextOrNull(15))
        {
            Problems = ProblemsJson.Read(r.TextOrNull(6)),
        };
    }
}
