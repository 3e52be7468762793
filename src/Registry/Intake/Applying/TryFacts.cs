using Npgsql;
using Registry.Facts;
using Registry.Matching;
using Registry.Records;

namespace Registry.Intake.Applying;

/// <summary>Deciding without applying, for one who does not see every infant.</summary>
public sealed partial class ApplyRows
{
    /// <summary>What would become of the rows now, had only these infants been known. Locks nothing and writes nothing: a read-only
    /// transaction will do.</summary>
    /// <param name="connection">The transaction's.</param>
    /// <param name="rows">Rows that passed their checks.</param>
    /// <param name="seen">Of some infants those whoever asks may see.</param>
    /// <param name="ct">Cancels.</param>
    public static async Task<IReadOnlyList<AppliedRow>> TryAsync(
        NpgsqlConnection connection, IReadOnlyList<RowToApply> rows, Func<IReadOnlyCollection<Guid>, Task<IReadOnlySet<Guid>>> seen,
        CancellationToken ct)
    {
        await LookUpByIndexAsync(connection, ct);
        var known = await KnownInfants.LoadAsync(connection, [.. rows.Select(r => Stated(r))], [], ct, seen);
        var apply = new ApplyRows(
            known, await RecordedFacts.LoadAsync(connection, [.. known.Stored], Enum.GetValues<RowKind>().ToHashSet(), ct));
        return apply.ApplyAll(rows);
    }
}
