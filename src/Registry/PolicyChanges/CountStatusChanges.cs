using System.Runtime.CompilerServices;
using System.Text.Json;
using Npgsql;
using NpgsqlTypes;
using Registry.Facts;
using Registry.Infants.Statuses;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Platform.Jobs;
using Registry.PolicyVersions;
using Registry.Rules;

namespace Registry.PolicyChanges;

/// <summary>Counts whom a drafted policy would change: everyone evaluated twice from the same facts, under the policy it is compared with
/// and under the draft, as of the same day. Changes nothing.</summary>
/// <remarks>Queue <c>default</c>, one at a time, three retries; a repeated run counts again from the start.</remarks>
public sealed class CountStatusChanges(NpgsqlDataSource source, PolicyStore policies, ProgramClock clock)
{
    [OneAtATime]
    [Hangfire.AutomaticRetry(Attempts = 3)]
    public async Task RunAsync(Guid draftId, CancellationToken ct)
    {
        if (await FindAsync(draftId, ct) is not { } draft) return;
        var lines = new Dictionary<StatusChange, int>();
        var (infants, changed) = (0, 0);
        await foreach (var chunk in ChangesAsync(draft, ct))
        {
            infants += chunk.Count;
            foreach (var (_, changes) in chunk)
            {
                if (changes.Count > 0) changed++;
                foreach (var change in changes) lines[change] = lines.GetValueOrDefault(change) + 1;
            }

            await KeepAsync(draftId, infants, null, ct);
        }

        var counts = new ChangeCounts(infants, changed,
            [.. lines.OrderBy(l => l.Key.Aspect).ThenByDescending(l => l.Value)
                .Select(l => new ChangeLine(l.Key.Aspect, l.Key.From, l.Key.To, l.Value))]);
        await KeepAsync(draftId, infants, JsonSerializer.Serialize(counts, JsonSerializerOptions.Web), ct);
    }

    /// <summary>The infants behind one number: found by evaluating again, so that the list is as long as the number.</summary>
    /// <param name="draftId">The draft.</param>
    /// <param name="change">Which change; null for any.</param>
    /// <param name="ct">Cancels.</param>
    /// <returns>Null when there is no such draft.</returns>
    public async Task<IReadOnlyList<KnownInfant>?> BehindAsync(Guid draftId, StatusChange? change, CancellationToken ct)
    {
        if (await FindAsync(draftId, ct) is not { } draft) return null;
        var behind = new List<KnownInfant>();
        await foreach (var chunk in ChangesAsync(draft, ct))
            behind.AddRange(chunk.Where(c => change is { } one ? c.Changes.Contains(one) : c.Changes.Count > 0).Select(c => c.Infant));
        return behind;
    }

    private sealed record Draft(Policy Proposed, Policy Current, DateOnly AsOf, DateTimeOffset KnownAt);

    /// <summary>Everyone, chunk by chunk, with what changes for each.</summary>
    private async IAsyncEnumerable<IReadOnlyList<(KnownInfant Infant, IReadOnlyList<StatusChange> Changes)>> ChangesAsync(
        Draft draft, [EnumeratorCancellation] CancellationToken ct)
    {
        await using var connection = await source.OpenConnectionAsync(ct);
        await foreach (var infants in WalkInfants.KnownAtAsync(connection, draft.KnownAt, null, ct))
            yield return [.. infants.Where(i => i.Facts.Birth.Date <= draft.AsOf).Select(i => (i, Changes(i, draft)))];
    }

    private static IReadOnlyList<StatusChange> Changes(KnownInfant infant, Draft draft) =>
    [
        .. CompareStatuses.Changes(
            EvaluateInfant.Evaluate(infant.Facts, draft.Current, draft.AsOf),
            EvaluateInfant.Evaluate(infant.Facts, draft.Proposed, draft.AsOf)),
    ];

    /// <summary>Facts as known when the draft was made, so that a list is as long as the number it stands behind.</summary>
    private async Task<Draft?> FindAsync(Guid id, CancellationToken ct)
    {
        await using var select = source.CreateCommand(
            "select document::text, compared_with, as_of, drafted_at from policy_drafts where id = $1");
        select.Parameters.AddWithValue(id);
        await using var r = await select.ExecuteReaderAsync(ct);
        if (!await r.ReadAsync(ct)) return null;
        var (proposed, comparedWith) = (Policy.FromJson(r.GetString(0)) with { Zone = clock.Zone }, r.GetString(1));
        var (asOf, draftedAt) = (r.Date(2), r.Moment(3));
        var current = (await policies.AllAsync(ct)).First(p => p.Version == comparedWith);
        return new(proposed, current, asOf, draftedAt < clock.Now ? draftedAt : clock.Now);
    }

    /// <summary>How far the count is, and what it found once it is done.</summary>
    private async Task KeepAsync(Guid id, int counted, string? changes, CancellationToken ct)
    {
        await using var update = source.CreateCommand(
            "update policy_drafts set counted = $2, changes = $3, infants = coalesce(infants, (select count(*)::int from infants)) "
            + "where id = $1");
        update.Parameters.AddWithValue(id);
        update.Parameters.AddWithValue(counted);
        update.Parameters.AddNullable(changes, NpgsqlDbType.Jsonb);
        await update.ExecuteNonQueryAsync(ct);
    }
}
