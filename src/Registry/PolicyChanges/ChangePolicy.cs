using Hangfire;
using Microsoft.EntityFrameworkCore;
using Registry.Platform;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Rules;

namespace Registry.PolicyChanges;

/// <summary>
/// Drafts a policy version, puts it in force from a later day, and takes it back before that day. A version begins tomorrow at the
/// earliest: no figure of a day that has begun ever changes its policy.
/// </summary>
public sealed class ChangePolicy(RegistryDb db, PolicyStore policies, ProgramClock clock, IServiceProvider services)
{
    /// <summary>The earliest day a new version may begin.</summary>
    public async Task<DateOnly> EarliestAsync(CancellationToken ct)
    {
        var last = (await policies.AllAsync(ct))[^1].EffectiveFrom;
        var tomorrow = clock.Today.AddDays(1);
        return last >= tomorrow ? last.AddDays(1) : tomorrow;
    }

    /// <returns>What is wrong with a proposed version, each naming the field; empty when it may be drafted.</returns>
    public async Task<IReadOnlyList<string>> ProblemsAsync(Policy proposed, CancellationToken ct)
    {
        var problems = proposed.Problems().ToList();
        if (await db.Policies.AnyAsync(p => p.Version == proposed.Version, ct)) problems.Add("version: there is a version of this name.");
        if (proposed.Version.Length > 60) problems.Add("version: longer than 60 characters.");
        if (proposed.Source.Length > 500) problems.Add("source: longer than 500 characters.");
        var earliest = await EarliestAsync(ct);
        if (proposed.EffectiveFrom < earliest) problems.Add($"effectiveFrom: the first day possible is {earliest:yyyy-MM-dd}.");
        return problems;
    }

    /// <summary>Keeps the draft and starts counting what it would change.</summary>
    public async Task<PolicyDraft> DraftAsync(Policy proposed, Guid person, CancellationToken ct)
    {
        var draft = new PolicyDraft
        {
            Id = Guid.CreateVersion7(),
            Document = proposed.ToJson(),
            ComparedWith = (await policies.InForceAsync(clock.Today, ct)).Version,
            AsOf = clock.Today,
            DraftedAt = clock.Now.ToUniversalTime(),
            DraftedBy = person,
        };
        db.PolicyDrafts.Add(draft);
        await db.SaveChangesAsync(ct);
        services.GetService<IBackgroundJobClient>()?.Enqueue<CountStatusChanges>(job => job.RunAsync(draft.Id, CancellationToken.None));
        return draft;
    }

    /// <summary>Puts a counted draft in force from its first day.</summary>
    /// <returns>Null when done, else why not.</returns>
    public async Task<string?> ScheduleAsync(PolicyDraft draft, Guid person, CancellationToken ct)
    {
        if (draft.Decision is not null) return "This draft was decided already.";
        if (draft.Changes is null) return "What it changes is not counted yet.";
        var proposed = Policy.FromJson(draft.Document);
        if (await ProblemsAsync(proposed, ct) is { Count: > 0 } problems) return string.Join(" ", problems);
        await using var transaction = await db.Database.BeginTransactionAsync(ct);
        Decide(draft, DraftDecision.Scheduled, person);
        db.Policies.Add(new PolicyRecord
        {
            Version = proposed.Version,
            EffectiveFrom = proposed.EffectiveFrom,
            Document = draft.Document,
            RecordedAt = clock.Now.ToUniversalTime(),
            RecordedBy = person,
        });
        await db.SaveChangesAsync(ct);
        await transaction.CommitAsync(ct);
        policies.Forget();
        return null;
    }

    /// <summary>Discards a draft, or withdraws its version before the first day. Both stay readable.</summary>
    /// <returns>Null when done, else why not.</returns>
    public async Task<string?> TakeBackAsync(PolicyDraft draft, Guid person, CancellationToken ct)
    {
        switch (draft.Decision)
        {
            case null:
                Decide(draft, DraftDecision.Discarded, person);
                await db.SaveChangesAsync(ct);
                return null;
            case DraftDecision.Scheduled:
                var proposed = Policy.FromJson(draft.Document);
                var version = await db.Policies.FirstAsync(p => p.Version == proposed.Version && p.WithdrawnAt == null, ct);
                if (version.EffectiveFrom <= clock.Today) return "This version is in force or was: change it by a new one.";
                version.WithdrawnAt = clock.Now.ToUniversalTime();
                version.WithdrawnBy = person;
                Decide(draft, DraftDecision.Withdrawn, person);
                await db.SaveChangesAsync(ct);
                policies.Forget();
                return null;
            default:
                return "This draft was decided already.";
        }
    }

    private void Decide(PolicyDraft draft, DraftDecision decision, Guid person)
    {
        draft.Decision = decision;
        draft.DecidedAt = clock.Now.ToUniversalTime();
        draft.DecidedBy = person;
    }
}
