using System.Text.Json;
using Microsoft.EntityFrameworkCore;
using Registry.Platform;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Rules;
using Registry.Rules.Facts;

namespace Registry.PolicyChanges;

/// <summary>A choice that differs.</summary>
/// <param name="Indicator">The risk indicator whose surveillance differs; null for any other choice.</param>
public sealed record PolicyDifference(string Title, string Now, string Then, RiskIndicatorKind? Indicator = null);

/// <summary>A draft beside the version it is compared with.</summary>
/// <param name="Counts">Null until counted.</param>
public sealed record ShownDraft(
    PolicyDraft Draft, Policy Proposed, Policy Current, ChangeCounts? Counts, IReadOnlyList<PolicyDifference> Differences,
    bool MayTakeBack);

/// <summary>Shows drafts, and what each would change.</summary>
public sealed class ShowDraft(RegistryDb db, PolicyStore policies, ProgramClock clock)
{
    private const int Most = 20;

    /// <returns>Null when there is no such draft.</returns>
    public async Task<ShownDraft?> OneAsync(Guid id, CancellationToken ct)
    {
        if (await db.PolicyDrafts.AsNoTracking().FirstOrDefaultAsync(d => d.Id == id, ct) is not { } draft) return null;
        var proposed = Policy.FromJson(draft.Document);
        var current = (await policies.AllAsync(ct)).First(p => p.Version == draft.ComparedWith);
        var counts = draft.Changes is null ? null : JsonSerializer.Deserialize<ChangeCounts>(draft.Changes, JsonSerializerOptions.Web);
        var mayTakeBack = draft.Decision is null
            || (draft.Decision == DraftDecision.Scheduled && proposed.EffectiveFrom > clock.Today);
        return new(draft, proposed, current, counts, [.. Differences(current, proposed)], mayTakeBack);
    }

    /// <summary>The latest drafts, newest first.</summary>
    public async Task<IReadOnlyList<(PolicyDraft Draft, Policy Proposed)>> LatestAsync(CancellationToken ct) =>
        [.. (await db.PolicyDrafts.AsNoTracking().OrderByDescending(d => d.DraftedAt).Take(Most).ToListAsync(ct))
            .Select(d => (d, Policy.FromJson(d.Document)))];

    private static IEnumerable<PolicyDifference> Differences(Policy current, Policy proposed) =>
        current.Choices().Zip(proposed.Choices()).Where(c => c.First.Value != c.Second.Value)
            .Select(c => new PolicyDifference(c.First.Title, c.First.Value, c.Second.Value))
            .Concat(current.Surveillance.Zip(proposed.Surveillance).Where(t => t.First != t.Second)
                .Select(t => new PolicyDifference("", t.First.ToString(), t.Second.ToString(), t.First.Kind)));
}
