using Npgsql;
using Registry.Intake.Rows;
using Registry.Records;
using Registry.Rules;
using Registry.Rules.Facts;

namespace Registry.Intake.Applying;

/// <summary>Applies the rows of a chunk that passed their checks: each by itself, or all or none.</summary>
/// <remarks>
/// Of all or none, a row that would be held counts as not applied: a unit of which one part waits for a person has not happened, and
/// nobody could say later whether it did. Then every row is rejected, each with its own reason or with that of the whole; nothing waits,
/// and the sender knows at once.
/// </remarks>
internal static class ApplyChunk
{
    private const string AnotherDoesNot = "not applied: all rows apply or none, and another one does not";

    /// <summary>In the caller's transaction, which goes on either way.</summary>
    public static async Task<Applied> RunAsync(
        NpgsqlConnection connection, CheckedChunk chunk, Policy policy, DateOnly asOf, CancellationToken ct)
    {
        if (!chunk.Sent.AllOrNothing) return await ApplyRows.RunAsync(connection, chunk.Valid, policy, asOf, ct);

        await ExecuteAsync(connection, "savepoint whole", ct);
        var applied = await ApplyRows.RunAsync(connection, chunk.Valid, policy, asOf, ct);
        if (AllApply(chunk, applied.Rows)) return applied;

        await ExecuteAsync(connection, "rollback to savepoint whole", ct);
        return new([.. applied.Rows.Select(Refused)], []);
    }

    /// <summary>What would become of the rows now; writes nothing.</summary>
    public static async Task<IReadOnlyList<AppliedRow>> TryAsync(
        NpgsqlConnection connection, CheckedChunk chunk, Func<IReadOnlyCollection<Guid>, Task<IReadOnlySet<Guid>>> seen,
        DateOnly today, CancellationToken ct)
    {
        var tried = await ApplyRows.TryAsync(connection, chunk.Valid, seen, today, ct);
        return !chunk.Sent.AllOrNothing || AllApply(chunk, tried) ? tried : [.. tried.Select(Refused)];
    }

    private static bool AllApply(CheckedChunk chunk, IReadOnlyList<AppliedRow> applied) =>
        chunk.AllPassed && applied.All(r => r.Outcome is RowOutcome.Accepted or RowOutcome.Unchanged);

    private static AppliedRow Refused(AppliedRow row) => new(RowOutcome.Rejected, null, null, row switch
    {
        { Problem: { } problem } => problem,
        { Hold: { } hold } => new Problem((string?)null, $"would be held ({Codes.Of(hold)}); a batch lets it wait"),
        _ => new Problem((string?)null, AnotherDoesNot),
    });

    private static async Task ExecuteAsync(NpgsqlConnection connection, string sql, CancellationToken ct)
    {
        await using var command = new NpgsqlCommand(sql, connection);
        await command.ExecuteNonQueryAsync(ct);
    }
}
