using Npgsql;
using Registry.Intake.Rows;
using Registry.Platform;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Intake.Applying;

/// <summary>Writes what became of rows that waited: updates the outcome and the held row <see cref="WriteOutcomes"/> wrote, and their
/// submission's counts. Content stays.</summary>
internal static class SettleHeldRows
{
    private static readonly string[] Statements = EmbeddedSql.Read(typeof(SettleHeldRows), nameof(SettleHeldRows))
        .Split(';', StringSplitOptions.RemoveEmptyEntries | StringSplitOptions.TrimEntries);

    /// <summary>Rows still held get their new reason; the others are applied by themselves. A row that waits on for the same reason is not
    /// written again: the sweep looks at it every minute.</summary>
    public static Task WriteAsync(
        NpgsqlConnection connection, IReadOnlyList<HeldContent> held, IReadOnlyList<AppliedRow> results, DateTimeOffset at,
        CancellationToken ct) =>
        WriteAsync(connection, held, results, [.. results.Select(r => r.Problem is { } p ? (IReadOnlyList<Problem>)[p] : [])], at, ct);

    /// <summary>The same, with what is to be said of each row.</summary>
    public static async Task WriteAsync(
        NpgsqlConnection connection, IReadOnlyList<HeldContent> held, IReadOnlyList<AppliedRow> results,
        IReadOnlyList<IReadOnlyList<Problem>> problems, DateTimeOffset at, CancellationToken ct)
    {
        var ids = held.Select(h => h.SubmissionId.Value).ToArray();
        var numbers = held.Select(h => h.RowNumber).ToArray();
        var changes = held.Zip(results, (h, r) => (h.SubmissionId.Value, r.Outcome)).Where(r => r.Outcome != RowOutcome.Held)
            .GroupBy(r => r.Value, r => r.Outcome).OrderBy(g => g.Key).ToList();
        int[] CountsOf(RowOutcome outcome) => [.. changes.Select(c => c.Count(o => o == outcome))];

        await using var batch = new NpgsqlBatch(connection);
        Add(batch, Statements[0], ids, numbers, results.Select(r => Codes.Of(r.Outcome)).ToArray(),
            results.Select(r => r.InfantId).ToArray(), problems.Select(p => p.Count == 0 ? null : ProblemsJson.Write(p, [])).ToArray());
        Add(batch, Statements[1], ids, numbers, results.Select(r => r.Hold is { } reason ? Codes.Of(reason) : null).ToArray(),
            at.ToUniversalTime(), results.Select(r => r.InfantId).ToArray(), results.Select(r => r.Leans).ToArray());
        Add(batch, Statements[2], changes.Select(c => c.Key).ToArray(), changes.Select(c => c.Count()).ToArray(),
            CountsOf(RowOutcome.Accepted), CountsOf(RowOutcome.Unchanged), CountsOf(RowOutcome.Rejected));
        await batch.ExecuteNonQueryAsync(ct);
        var leaning = held.Zip(results).Where(p => p.Second.Leans).Select(p => (p.First.SubmissionId, p.First.RowNumber));
        await LeaningRows.CompareAsync(connection, [.. leaning], ct);
    }

    private static void Add(NpgsqlBatch batch, string sql, params ReadOnlySpan<object> values)
    {
        var command = new NpgsqlBatchCommand(sql);
        foreach (var value in values) command.Parameters.Add(new NpgsqlParameter { Value = value });
        batch.BatchCommands.Add(command);
    }
}
