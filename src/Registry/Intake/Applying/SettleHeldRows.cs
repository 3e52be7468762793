using Npgsql;
using Registry.Intake.Rows;
using Registry.Platform;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Intake.Applying;

/// <summary>A held row as it was sent.</summary>
public sealed record HeldContent(SubmissionId SubmissionId, int RowNumber, SiteId SiteId, DateTimeOffset ReceivedAt, string Content,
    int Line)
{
    /// <summary>What the reader of the file found and nobody answered yet; <see cref="Content"/> does not show it.</summary>
    public IReadOnlyList<Problem> FoundByReader { get; init; } = [];

    /// <summary>The row is held no more.</summary>
    public bool Settled { get; set; }

    /// <summary>Reads the content again. It passed its checks when it came, on the day it came, but the registry may have changed since: a
    /// site's code, what kind of site it is.</summary>
    /// <returns>The row, or null with what is wrong with it now.</returns>
    internal RowToApply? ToApply(ProgramClock clock, KnownSites sites, DateTimeOffset recordedAt, out IReadOnlyList<Problem> problems)
    {
        var batch = new RowBatch(1);
        batch.AddJson(RowNumber, Line, Content);
        var row = sites.Check(clock.DateOf(ReceivedAt), SiteId).Check(batch, 0, out _, out problems);
        return row is null ? null : new(SubmissionId, SiteId, RowNumber, row, recordedAt);
    }
}

/// <summary>Reads held rows, and writes what became of them: the row's outcome, its resolution, its submission's counts.</summary>
internal static class SettleHeldRows
{
    public static async Task<List<HeldContent>> ReadAsync(NpgsqlCommand select, CancellationToken ct)
    {
        var held = new List<HeldContent>();
        await using var reader = await select.ExecuteReaderAsync(ct);
        while (await reader.ReadAsync(ct))
        {
            held.Add(new(
                new(reader.GetGuid(0)), reader.GetInt32(1), new(reader.GetGuid(2)), reader.GetFieldValue<DateTimeOffset>(3),
                reader.GetString(4), reader.GetInt32(5)));
        }

        return held;
    }

    /// <summary>Rows still held get their new reason; the others are applied by themselves. Content stays. A row that waits on
    /// for the same reason is not written again: the sweep looks at it every minute.</summary>
    public static Task WriteAsync(
        NpgsqlConnection connection, IReadOnlyList<HeldContent> held, IReadOnlyList<AppliedRow> results, DateTimeOffset at,
        CancellationToken ct) =>
        WriteAsync(connection, held, results, [.. results.Select(r => r.Problem is { } p ? (IReadOnlyList<Problem>)[p] : [])], at, ct);

    /// <summary>The same, with what is to be said of each row.</summary>
    public static async Task WriteAsync(
        NpgsqlConnection connection,
        IReadOnlyList<HeldContent> held, IReadOnlyList<AppliedRow> results, IReadOnlyList<IReadOnlyList<Problem>> problems,
        DateTimeOffset at, CancellationToken ct)
    {
        await using var batch = new NpgsqlBatch(connection);
        var rows = new NpgsqlBatchCommand(
            """
            update submission_rows r set outcome = n.outcome, infant_id = n.infant_id, problems = n.problems::jsonb
              from unnest($1::uuid[], $2::int[], $3::text[], $4::uuid[], $5::text[]) as n (submission_id, row_number, outcome, infant_id, problems)
             where r.submission_id = n.submission_id and r.row_number = n.row_number
               and (r.outcome, r.infant_id, r.problems) is distinct from (n.outcome, n.infant_id, n.problems::jsonb)
            """);
        var waiting = new NpgsqlBatchCommand(
            """
            update held_rows h set reason = coalesce(n.reason, h.reason),
              resolution = case when n.reason is null then 'applied' end, resolved_at = case when n.reason is null then $4 end
              from unnest($1::uuid[], $2::int[], $3::text[]) as n (submission_id, row_number, reason)
             where h.submission_id = n.submission_id and h.row_number = n.row_number and h.reason is distinct from n.reason
            """);
        var counts = new NpgsqlBatchCommand(
            """
            update submissions s set held = s.held - c.settled, accepted = s.accepted + c.accepted, unchanged = s.unchanged + c.unchanged,
              rejected = s.rejected + c.rejected
              from unnest($1::uuid[], $2::int[], $3::int[], $4::int[], $5::int[]) as c (id, settled, accepted, unchanged, rejected)
             where s.id = c.id
            """);
        var ids = held.Select(h => h.SubmissionId.Value).ToArray();
        var numbers = held.Select(h => h.RowNumber).ToArray();

        Add(rows, ids);
        Add(rows, numbers);
        Add(rows, results.Select(r => Codes.Of(r.Outcome)).ToArray());
        Add(rows, results.Select(r => r.InfantId).ToArray());
        Add(rows, problems.Select(p => p.Count == 0 ? null : ProblemsJson.Write(p, [])).ToArray());

        Add(waiting, ids);
        Add(waiting, numbers);
        Add(waiting, results.Select(r => r.Hold is { } reason ? Codes.Of(reason) : null).ToArray());
        Add(waiting, at.ToUniversalTime());

        var changes = held.Zip(results, (h, r) => (h.SubmissionId.Value, r.Outcome)).Where(r => r.Outcome != RowOutcome.Held)
            .GroupBy(r => r.Value, r => r.Outcome).OrderBy(g => g.Key).ToList();
        Add(counts, changes.Select(c => c.Key).ToArray());
        Add(counts, changes.Select(c => c.Count()).ToArray());
        foreach (var outcome in (ReadOnlySpan<RowOutcome>)[RowOutcome.Accepted, RowOutcome.Unchanged, RowOutcome.Rejected])
        {
            var counted = outcome;
            Add(counts, changes.Select(c => c.Count(o => o == counted)).ToArray());
        }

        batch.BatchCommands.Add(rows);
        batch.BatchCommands.Add(waiting);
        batch.BatchCommands.Add(counts);
        await batch.ExecuteNonQueryAsync(ct);
    }

    private static void Add<T>(NpgsqlBatchCommand command, T value) => command.Parameters.Add(new NpgsqlParameter { Value = value });
}
