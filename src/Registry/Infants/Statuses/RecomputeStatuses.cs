using Npgsql;
using Registry.Facts;
using Registry.Infants.Counting;
using Registry.Rules;

namespace Registry.Infants.Statuses;

/// <summary>
/// Recomputes stored statuses from the facts. Idempotent: running it again changes nothing.
/// Callers that just wrote facts run it in their own transaction, so a status is never older than the facts it stands on.
/// </summary>
public static class RecomputeStatuses
{
    /// <summary>Recomputes the given infants after their facts changed, and counts their tests anew, on the caller's connection and in its
    /// transaction.</summary>
    public static async Task ForInfantsAsync(
        NpgsqlConnection connection, IReadOnlyCollection<Guid> infantIds, DateOnly asOf, Policy policy, CancellationToken ct)
    {
        foreach (var chunk in infantIds.Distinct().Order().Chunk(InfantsInChunks.Size))
        {
            await StatusesAsync(connection, chunk, asOf, policy, ct);
            await CountScreening.ForInfantsAsync(connection, chunk, asOf, policy, ct);
        }
    }

    /// <summary>Recomputes those whose status the calendar changed by <paramref name="today"/>.</summary>
    /// <returns>How many were recomputed.</returns>
    public static Task<int> ForCalendarAsync(NpgsqlDataSource source, DateOnly today, Policy policy, CancellationToken ct) =>
        InfantsInChunks.RunAsync(source,
            "select infant_id from (select infant_id from infant_status where next_change_on <= $2 and infant_id > $1 union "
                + "select infant_id from infant_work where changes_on <= $2 and infant_id > $1) c order by infant_id limit $3",
            today, (connection, chunk) => StatusesAsync(connection, chunk, today, policy, ct), ct);

    /// <summary>Recomputes everyone: after a policy change, or to prove that nothing drifted.</summary>
    public static Task<int> ForAllAsync(NpgsqlDataSource source, DateOnly today, Policy policy, CancellationToken ct) =>
        InfantsInChunks.RunAsync(
            source, InfantsInChunks.All, today, (connection, chunk) => StatusesAsync(connection, chunk, today, policy, ct), ct);

    /// <summary>Recomputes everyone with work: after another chance of loss was fitted.</summary>
    public static Task<int> ForWorkAsync(NpgsqlDataSource source, DateOnly today, Policy policy, CancellationToken ct) =>
        InfantsInChunks.RunAsync(source,
            "select infant_id from infant_work where $2::date is not null and infant_id > $1 order by infant_id limit $3",
            today, (connection, chunk) => StatusesAsync(connection, chunk, today, policy, ct), ct);

    /// <summary>Pure step: facts in, statuses out. Infants born after <paramref name="asOf"/> have none yet.</summary>
    public static IEnumerable<(KnownInfant Infant, InfantStatus Status)> Evaluate(
        IReadOnlyList<KnownInfant> infants, Policy policy, DateOnly asOf) =>
        infants.Where(i => i.Facts.Birth.Date <= asOf).Select(i => (i, EvaluateInfant.Evaluate(i.Facts, policy, asOf)));

    private static async Task<int> StatusesAsync(
        NpgsqlConnection connection, Guid[] chunk, DateOnly asOf, Policy policy, CancellationToken ct)
    {
        await InfantsInChunks.LockAsync(connection, chunk, ct);
        var statuses = Evaluate(await FactsForRules.KnownAtAsync(connection, chunk, DateTimeOffset.MaxValue, ct), policy, asOf).ToList();
        await StoreStatuses.ReplaceAsync(connection, chunk, statuses, policy.Version, asOf, ct);
        await StoreWork.ReplaceAsync(connection, chunk, statuses, policy, asOf, ct);
        return chunk.Length;
    }
}
