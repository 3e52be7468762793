using Npgsql;
using Registry.Facts;
using Registry.Infants.Statuses;
using Registry.Matching;
using Registry.Records;
using Registry.Rules;

namespace Registry.Intake.Applying;

/// <summary>
/// Matches rows to infants, compares them with what is recorded, writes what is new and recomputes the statuses it
/// touched, all in the caller's transaction: a handful of statements for any number of rows.
/// </summary>
public static class ApplyRows
{
    /// <remarks>The caller runs the transaction again when a unique index speaks: the backstop behind the locks
    /// (<see cref="LockInfants"/>).</remarks>
    public static async Task<Applied> RunAsync(
        NpgsqlConnection connection, IReadOnlyList<RowToApply> rows, Policy policy, DateOnly asOf, CancellationToken ct)
    {
        await LookUpByIndexAsync(connection, ct);
        await LockInfants.BornOnDaysOfAsync(connection, rows, ct);
        var chosen = rows.Where(r => r.Chosen is not null).Select(r => r.Chosen!.Value).Distinct().ToList();
        var known = await KnownInfants.LoadAsync(connection, StatedBy(rows), chosen, asOf, ct);
        var stored = known.Stored.ToArray();
        await LockInfants.StoredAsync(connection, stored, ct);
        var recorded = await RecordedFacts.LoadAsync(connection, stored, KindsNeeded(rows), ct);

        var record = new RecordRows(known, recorded);
        var leaning = await LeaningRows.InfantsOfAsync(connection, stored, ct);
        var results = new ApplyRow(known, recorded, record, leaning).InTurn(rows);
        await record.WriteAsync(connection, ct);
        if (record.Touched.Count > 0) await RecomputeStatuses.ForInfantsAsync(connection, record.Touched, asOf, policy, ct);
        return new(results, record.Touched);
    }

    /// <summary>What would become of the rows now, had only these infants been known: for one who does not see every infant. Locks nothing
    /// and writes nothing: a read-only transaction will do.</summary>
    /// <param name="connection">The transaction's.</param>
    /// <param name="rows">Rows that passed their checks.</param>
    /// <param name="seen">Of some infants those whoever asks may see.</param>
    /// <param name="today">The day it is tried.</param>
    /// <param name="ct">Cancels.</param>
    public static async Task<IReadOnlyList<AppliedRow>> TryAsync(
        NpgsqlConnection connection, IReadOnlyList<RowToApply> rows, Func<IReadOnlyCollection<Guid>, Task<IReadOnlySet<Guid>>> seen,
        DateOnly today, CancellationToken ct)
    {
        await LookUpByIndexAsync(connection, ct);
        var known = await KnownInfants.LoadAsync(connection, StatedBy(rows), [], today, ct, seen);
        var recorded = await RecordedFacts.LoadAsync(connection, [.. known.Stored], AllKinds, ct);
        return new ApplyRow(known, recorded, new RecordRows(known, recorded), []).InTurn(rows);
    }

    /// <summary>
    /// Every query of this transaction looks up some thousand keys, each by an index. While a table grows the planner's
    /// statistics lag behind, and it reads the whole table instead: then the time of a chunk grows with the registry.
    /// </summary>
    internal static async Task LookUpByIndexAsync(NpgsqlConnection connection, CancellationToken ct)
    {
        await using var command = new NpgsqlCommand("set local enable_seqscan = off", connection);
        await command.ExecuteNonQueryAsync(ct);
    }

    private static HashSet<RowKind> AllKinds => [.. Enum.GetValues<RowKind>()];

    private static List<StatedIdentity> StatedBy(IReadOnlyList<RowToApply> rows) => [.. rows.Select(r => r.Stated)];

    /// <summary>The kinds the rows report; of a birth that is corrected or retracted all, to find what would be left without
    /// ground.</summary>
    private static HashSet<RowKind> KindsNeeded(IReadOnlyList<RowToApply> rows) =>
        rows.Any(r => r.Row is { Kind: RowKind.Birth, Action: not RowAction.Report }) ? AllKinds : [.. rows.Select(r => r.Row.Kind)];
}
