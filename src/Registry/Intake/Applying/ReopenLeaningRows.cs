using Npgsql;
using Registry.Facts;
using Registry.Infants.Statuses;
using Registry.Intake.Rows;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;
using Registry.Rules;
using Registry.Rules.Facts;

namespace Registry.Intake.Applying;

/// <summary>
/// Asks rows again that were applied on the strength of details, once the infants they were compared with have changed: another came that
/// fits as well, or one turned out to be another child. What they had said is taken back, and all of them are applied anew, as if they came
/// now. Where each is about the same infant as before, nothing was changed; the others wait, with the reason, or are applied elsewhere. So
/// it makes no difference whether an infant or the row came first.
/// </summary>
/// <remarks>A row is left as it is when something else rests on it that does not lean: a person's decision.</remarks>
public static class ReopenLeaningRows
{
    public const string Reason =
        "was applied by its details alone, and the infants they fit have changed since: what it said was taken back, and it is asked again";

    private static readonly string FindSql = LeaningRows.Fill(EmbeddedSql.Read(typeof(ReopenLeaningRows), "FindLeaningRows"));
    private static readonly string[] Statements = EmbeddedSql.Read(typeof(ReopenLeaningRows), "ReopenRows")
        .Split(';', StringSplitOptions.RemoveEmptyEntries | StringSplitOptions.TrimEntries);

    private sealed record Leaning(HeldContent Content, RowOutcome Outcome, Guid InfantId, DateTimeOffset At)
    {
        /// <summary>The row on its way to an infant once more; null when it is not asked.</summary>
        public RowToApply? Again { get; set; }

        public (SubmissionId, int) Key => (Content.SubmissionId, Content.RowNumber);
    }

    /// <summary>In the caller's transaction.</summary>
    /// <returns>The infants it touched.</returns>
    public static async Task<IReadOnlyCollection<Guid>> RunAsync(
        NpgsqlConnection connection, Guid[] infants, ProgramClock clock, Policy policy, DateTimeOffset at, CancellationToken ct)
    {
        await ApplyRows.LookUpByIndexAsync(connection, ct);
        var rows = await FindAsync(connection, infants, ct);
        if (rows.Count == 0) return [];
        var now = rows.Max(r => r.At) is var last && last > at ? last : at;
        var sites = await KnownSites.ReadAsync(connection, ct);
        // A row that passes its checks no more stays: what it said then was right.
        foreach (var row in rows) row.Again = row.Content.ToApply(clock, sites, now, out _);
        var asked = rows.FindAll(r => r.Again is not null);
        await ExecuteAsync(connection, "savepoint reopened", ct);
        await LockInfants.BornOnDaysOfAsync(connection, asked.ConvertAll(r => r.Again!), ct);
        var of = asked.Select(r => r.InfantId).Distinct().Order().ToArray();
        await LockInfants.StoredAsync(connection, of, ct);
        if (await TakeBackAsync(connection, asked, now, ct))
        {
            var applied = await ApplyRows.RunAsync(connection, asked.ConvertAll(r => r.Again!), policy, clock.Today, ct);
            if (asked.Zip(applied.Rows).Any(p => !IsAsBefore(p.First, p.Second)))
            {
                await RecomputeStatuses.ForInfantsAsync(connection, of, clock.Today, policy, ct);
                await WriteAsync(connection, asked, applied.Rows, now, ct);
                return [.. applied.Touched.Union(of)];
            }
        }

        await ExecuteAsync(connection, "rollback to savepoint reopened", ct);
        await LeaningRows.CompareAsync(connection, rows.ConvertAll(r => r.Key), ct);
        return [];
    }

    private static bool IsAsBefore(Leaning before, AppliedRow after) =>
        after.Outcome is RowOutcome.Accepted or RowOutcome.Unchanged && after.InfantId == before.InfantId;

    private static async Task<List<Leaning>> FindAsync(NpgsqlConnection connection, Guid[] infants, CancellationToken ct)
    {
        var rows = new List<Leaning>();
        await using var select = new NpgsqlCommand(FindSql, connection);
        select.Parameters.AddWithValue(infants);
        await using var reader = await select.ExecuteReaderAsync(ct);
        while (await reader.ReadAsync(ct))
            rows.Add(new(HeldContent.Read(reader), reader.Code<RowOutcome>(7), reader.GetGuid(8), reader.Moment(9)));
        return rows;
    }

    /// <summary>The last first: what one had replaced is restated before it is taken back itself.</summary>
    /// <returns>False when something rests on one of them. A birth another site stated anew since is no longer this row's word: it is left
    /// alone.</returns>
    private static async Task<bool> TakeBackAsync(
        NpgsqlConnection connection, List<Leaning> rows, DateTimeOffset now, CancellationToken ct)
    {
        for (var i = rows.Count - 1; i >= 0; i--)
        {
            var (id, number) = rows[i].Key;
            if (await TakeBackFacts.RunAsync(connection, id, number, rows[i].InfantId, rows[i].At, now, ct, lastFirst: true) is not null)
                continue;
            if (rows[i].Again!.Row.Kind != RowKind.Birth) return false;
            rows.RemoveAt(i);
        }

        return true;
    }

    private static async Task WriteAsync(
        NpgsqlConnection connection, List<Leaning> rows, IReadOnlyList<AppliedRow> results, DateTimeOffset now, CancellationToken ct)
    {
        var ids = rows.ConvertAll(r => r.Content.SubmissionId.Value).ToArray();
        var numbers = rows.ConvertAll(r => r.Content.RowNumber).ToArray();
        var about = results.Select(r => r.InfantId).ToArray();
        var problems = rows.Zip(results, (before, after) => IsAsBefore(before, after)
            ? null : ProblemsJson.Write(after.Problem is { } problem ? [problem] : [new Problem((string?)null, Reason)], [])).ToArray();
        var changes = rows.Zip(results).GroupBy(p => p.First.Content.SubmissionId.Value).OrderBy(g => g.Key).ToList();
        int[] CountsOf(RowOutcome outcome) =>
            [.. changes.Select(c => c.Count(p => p.Second.Outcome == outcome) - c.Count(p => p.First.Outcome == outcome))];

        await using var batch = new NpgsqlBatch(connection);
        Add(batch, Statements[0], ids, numbers, results.Select(r => Codes.Of(r.Outcome)).ToArray(), about, problems);
        Add(batch, Statements[1], ids, numbers, results.Select(r => r.Hold is { } hold ? Codes.Of(hold) : null).ToArray(), about,
            results.Select(r => r.Leans).ToArray(), now.ToUniversalTime());
        Add(batch, Statements[2], changes.ConvertAll(c => c.Key).ToArray(), CountsOf(RowOutcome.Held), CountsOf(RowOutcome.Accepted),
            CountsOf(RowOutcome.Unchanged), CountsOf(RowOutcome.Rejected));
        await batch.ExecuteNonQueryAsync(ct);
        await LeaningRows.CompareAsync(connection, [.. rows.Select(r => r.Key)], ct);
    }

    private static void Add(NpgsqlBatch batch, string sql, params ReadOnlySpan<object> values)
    {
        var command = new NpgsqlBatchCommand(sql);
        foreach (var value in values) command.Parameters.Add(new NpgsqlParameter { Value = value });
        batch.BatchCommands.Add(command);
    }

    private static async Task ExecuteAsync(NpgsqlConnection connection, string sql, CancellationToken ct)
    {
        await using var command = new NpgsqlCommand(sql, connection);
        await command.ExecuteNonQueryAsync(ct);
    }
}
