using Npgsql;
using Registry.Intake.Rows;
using Registry.Platform.Data;
using Registry.Records;
using Registry.Rules.Linkage;

namespace Registry.Intake.Applying;

/// <summary>What became of the rows of a chunk.</summary>
internal sealed class ChunkOutcomes
{
    private readonly IReadOnlyList<RowResult> _results;

    public ChunkOutcomes(IReadOnlyList<RowResult> results)
    {
        _results = results;
        foreach (var result in results)
        {
            Counts[(int)result.Applied.Outcome]++;
            AnyWaits |= result.Applied.Outcome == RowOutcome.Held;
        }
    }

    /// <summary>How many rows have each <see cref="RowOutcome"/>.</summary>
    public int[] Counts { get; } = new int[Enum.GetValues<RowOutcome>().Length];

    /// <summary>Some rows wait.</summary>
    public bool AnyWaits { get; }

    /// <summary>The rows as they would be read back, when nothing is to be said of any; else null.</summary>
    public IReadOnlyList<RowReport>? Plain() =>
        Counts[(int)RowOutcome.Accepted] + Counts[(int)RowOutcome.Unchanged] < _results.Count
            ? null : [.. _results.Select(r => r.Report())];
}

/// <summary>
/// Writes what became of every row of some chunks, in the transaction that applied them: its outcome, and where it waits. Every row of
/// submission_rows is added here; those of held_rows by <see cref="HoldRows"/>. Later only <see cref="SettleHeldRows"/>,
/// <see cref="ReturnedRows"/> and a person's decision change them.
/// </summary>
internal static class WriteOutcomes
{
    private const string CopyOutcomes =
        "copy submission_rows (submission_id, row_number, line, kind, outcome, infant_id, problems, content, content_key, identifier_keys, "
            + "discarded_at, repeated) from stdin (format binary)";

    /// <param name="Content">The row's fields, kept when it is held or rejected, or leans on details.</param>
    /// <param name="IsRepeated">It is rejected as it was before, and waits already.</param>
    private readonly record struct Row(CheckedChunk Chunk, RowResult Result, RowContent? Content, bool IsRepeated = false)
    {
        /// <summary>It was applied, and may wait again.</summary>
        public bool Leans => Result.Applied.Leans && Content is not null;
    }

    /// <param name="connection">In the transaction that applied the rows.</param>
    /// <param name="chunks">The chunks, with what became of their valid rows.</param>
    /// <param name="ct">Cancels.</param>
    /// <returns>In the order of the chunks.</returns>
    public static async Task<IReadOnlyList<ChunkOutcomes>> RunAsync(
        NpgsqlConnection connection, IReadOnlyList<(CheckedChunk Chunk, IReadOnlyList<AppliedRow> Applied)> chunks, CancellationToken ct)
    {
        var rows = new List<Row>(chunks.Sum(c => c.Chunk.Rows.Count));
        foreach (var (chunk, applied) in chunks)
        {
            foreach (var result in chunk.Results(applied))
                rows.Add(new(chunk, result, IsKept(result) ? RowContent.Of(chunk.ContentOf(result.Row)) : null));
        }

        await RecogniseRepeatedAsync(connection, rows, ct);
        await ForgetLeaningRepeatedAsync(connection, rows, ct);
        await CopyRows.RunAsync(connection, CopyOutcomes, rows, Write, ct);
        var held = rows.FindAll(r => r.Result.Applied.Outcome == RowOutcome.Held).ConvertAll(ToHold);
        var leaning = rows.FindAll(r => r.Leans);
        await HoldRows.CopyAsync(connection, [.. held, .. leaning.Select(ToLean)], ct);
        await LeaningRows.CompareAsync(connection, leaning.ConvertAll(r => (r.Chunk.Sent.SubmissionId, r.Result.Row.Number)), ct);
        await CountUnmatched.AddAsync(connection, held, ct);
        await ReturnedRows.CloseRejectedAsync(connection, Returned(rows), ct);
        return Outcomes(chunks, rows);
    }

    /// <summary>A row that would wait, and was sent before to the letter (<see cref="FindRepeatedRows"/>) or stands in the same rows above:
    /// one that is held says that it is still waiting, or that nothing changes where a person decided it; one that is rejected is told
    /// again. Neither waits once more.</summary>
    private static async Task RecogniseRepeatedAsync(NpgsqlConnection connection, List<Row> rows, CancellationToken ct)
    {
        var places = Enumerable.Range(0, rows.Count).Where(i => WouldWait(rows[i])).ToList();
        var sent = places.ConvertAll(i => (rows[i].Chunk.Sent.SiteId, rows[i].Result.Applied.Outcome, rows[i].Content!.Key));
        var before = await FindRepeatedRows.RunAsync(connection, sent, ct);
        var above = new HashSet<(SiteId, RowOutcome, string)>();
        foreach (var (n, i) in places.Index())
        {
            var wasSent = before.TryGetValue(n, out var decided);
            if (above.Add(sent[n]) && !wasSent) continue;
            var result = rows[i].Result;
            var outcome = decided ? RowOutcome.Unchanged : RowOutcome.StillWaiting;
            rows[i] = result.Applied.Outcome == RowOutcome.Rejected
                ? rows[i] with { IsRepeated = true }
                : new(rows[i].Chunk, result with { Applied = new(outcome, IdToTell(result.Applied)) }, null);
        }
    }

    private static async Task ForgetLeaningRepeatedAsync(NpgsqlConnection connection, List<Row> rows, CancellationToken ct)
    {
        var places = Enumerable.Range(0, rows.Count).Where(i => rows[i].Leans).ToList();
        var repeated = await LeaningRows.RepeatedAsync(
            connection, places.ConvertAll(i => (rows[i].Chunk.Sent.SiteId, rows[i].Content!.Key)), ct);
        foreach (var n in repeated.Where(n => rows[places[n]].Result.Applied.Outcome == RowOutcome.Unchanged))
            rows[places[n]] = rows[places[n]] with { Content = null };
    }

    /// <summary>The site of a claim is not told which infant it is about.</summary>
    private static Guid? IdToTell(AppliedRow row) =>
        row.Hold is HoldReason.AwaitsConfirmation or HoldReason.NotConfirmed ? null : row.InfantId;

    /// <summary>Not a row sent back from the file of rejected rows.</summary>
    private static bool WouldWait(Row row) => row.Chunk.OriginOf(row.Result.Row) is null
        && (row.Result.Applied.Outcome == RowOutcome.Held || (row.Result.Applied.Outcome == RowOutcome.Rejected && !WaitsForNobody(row)));

    /// <summary>A rejected row nobody can put right by its columns, which would lose what stood in its way: it is part of a whole that did
    /// not apply, has a condition, or is wrong in an element of a Bundle that no column states.</summary>
    private static bool WaitsForNobody(Row row)
    {
        var (chunk, (of, applied)) = (row.Chunk, row.Result);
        if (applied.Outcome != RowOutcome.Rejected) return false;
        return row.IsRepeated || chunk.Sent.AllOrNothing || chunk.HasCondition(of)
            || (of.Kind is not null && of.Problems.Any(p => p.Field?.StartsWith("Bundle", StringComparison.Ordinal) == true));
    }

    private static bool IsKept(RowResult result) =>
        result.Applied.Outcome is RowOutcome.Held or RowOutcome.Rejected || result.Applied.Leans;

    private static void Write(NpgsqlBinaryImporter w, Row row)
    {
        var (chunk, (of, applied)) = (row.Chunk, row.Result);
        var problems = row.Result.Problems;
        w.Id(chunk.Sent.SubmissionId.Value);
        w.Number(of.Number);
        w.Number(of.Line);
        w.Code(of.Kind);
        w.Code(applied.Outcome);
        w.Id(applied.InfantId);
        w.Json(problems.Count == 0 ? null : ProblemsJson.Write(problems, chunk.FoundByReader(of)));
        w.Text(row.Content?.Text);
        w.Text(row.Content?.Key);
        w.Texts(row.Content?.IdentifierKeys);
        w.Moment(WaitsForNobody(row) ? chunk.Sent.ReceivedAt : null);
        w.Bool(row.IsRepeated);
    }

    private static RowToHold ToHold(Row row)
    {
        var (sent, (of, applied)) = (row.Chunk.Sent, row.Result);
        var says = row.Chunk.Valid[of.Valid].Row;
        return new(sent.SubmissionId, of.Number, sent.SiteId, sent.ReceivedAt, says, applied.Hold!.Value, applied.InfantId);
    }

    /// <summary>What it would wait for if another infant fitted too.</summary>
    private static RowToHold ToLean(Row row)
    {
        var (sent, (of, applied)) = (row.Chunk.Sent, row.Result);
        var says = row.Chunk.Valid[of.Valid].Row;
        return new(sent.SubmissionId, of.Number, sent.SiteId, sent.ReceivedAt, says, HoldReason.SeveralCandidates, applied.InfantId)
        {
            Leans = true,
        };
    }

    private static List<ReturnedRow> Returned(List<Row> rows)
    {
        var returned = new List<ReturnedRow>();
        foreach (var row in rows)
        {
            if (row.Chunk.OriginOf(row.Result.Row) is not { } origin) continue;
            var sent = row.Chunk.Sent;
            returned.Add(new(origin, sent.SiteId, new(sent.SubmissionId, row.Result.Row.Number), sent.ReceivedAt));
        }

        return returned;
    }

    private static List<ChunkOutcomes> Outcomes(
        IReadOnlyList<(CheckedChunk Chunk, IReadOnlyList<AppliedRow> Applied)> chunks, List<Row> rows)
    {
        var outcomes = new List<ChunkOutcomes>(chunks.Count);
        var from = 0;
        foreach (var (chunk, _) in chunks)
        {
            outcomes.Add(new(rows.GetRange(from, chunk.Rows.Count).ConvertAll(r => r.Result)));
            from += chunk.Rows.Count;
        }

        return outcomes;
    }
}
