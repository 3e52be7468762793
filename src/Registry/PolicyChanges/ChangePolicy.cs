using Hangfire;
using Microsoft.EntityFrameworkCore;
using Registry.Access;
using Registry.Platform;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Rules;

namespace Registry.PolicyChanges;

public enum DraftOutcome { Scheduled, TakenBack, NoSuchDraft, DecidedAlready, NotCounted, HasProblems, InForce }

/// <summary>What became of a decision about a draft. Nothing is written but for the first two.</summary>
public sealed record DraftAnswer(DraftOutcome Outcome)
{
    public IReadOnlyList<VersionProblem> Problems { get; init; } = [];
    public bool IsDone => Outcome is DraftOutcome.Scheduled or DraftOutcome.TakenBack;
}

/// <summary>
/// Drafts a policy version, puts it in force from a later day, and takes it back before that day. A version begins tomorrow at the
/// earliest: no figure of a day that has begun ever changes its policy.
/// </summary>
public sealed class ChangePolicy(
    RegistryDb db, PolicyStore policies, ProgramClock clock, AuditActs audit, IServiceProvider services)
{
    /// <summary>The earliest day a new version may begin.</summary>
    public async Task<DateOnly> EarliestAsync(CancellationToken ct)
    {
        var last = (await policies.AllAsync(ct))[^1].EffectiveFrom;
        var tomorrow = clock.Today.AddDays(1);
        return last >= tomorrow ? last.AddDays(1) : tomorrow;
    }

    /// <summary>Reads a version from a form and drafts it.</summary>
    /// <returns>The draft, or why there is none.</returns>
    public async Task<(PolicyDraft? Draft, IReadOnlyList<VersionProblem> Problems)> ProposeAsync(
        IFormCollection entered, Guid person, CancellationToken ct)
    {
        var (proposed, problems) = ReadPolicyForm.Over((await policies.AllAsync(ct))[^1], entered);
        if (proposed is not null) problems = await ProblemsAsync(proposed, ct);
        return problems.Count > 0 ? (null, problems) : (await DraftAsync(proposed!, person, ct), problems);
    }

    /// <returns>Empty when the version may be drafted.</returns>
    public async Task<IReadOnlyList<VersionProblem>> ProblemsAsync(Policy proposed, CancellationToken ct)
    {
        List<VersionProblem> problems = [.. proposed.Problems().Select(p => new VersionProblem.Document(p))];
        if (await db.Policies.AnyAsync(p => p.Version == proposed.Version, ct)) problems.Add(new VersionProblem.NameTaken());
        if (proposed.Version.Length > 60) problems.Add(new VersionProblem.TooLong("version", 60));
        if (proposed.Source.Length > 500) problems.Add(new VersionProblem.TooLong("source", 500));
        var earliest = await EarliestAsync(ct);
        if (proposed.EffectiveFrom < earliest) problems.Add(new VersionProblem.TooEarly(earliest));
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
    public async Task<DraftAnswer> ScheduleAsync(Guid id, Guid person, CancellationToken ct)
    {
        if (await FindAsync(id, ct) is not { } draft) return new(DraftOutcome.NoSuchDraft);
        if (draft.Decision is not null) return new(DraftOutcome.DecidedAlready);
        if (draft.Changes is null) return new(DraftOutcome.NotCounted);
        var proposed = Policy.FromJson(draft.Document);
        if (await ProblemsAsync(proposed, ct) is { Count: > 0 } problems) return new(DraftOutcome.HasProblems) { Problems = problems };
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
        policies.Forget();
        await audit.RecordAsync(AccessKind.PolicyScheduled, id, proposed.Version, person);
        return new(DraftOutcome.Scheduled);
    }

    /// <summary>Discards a draft, or withdraws its version before the first day. Both stay readable.</summary>
    public async Task<DraftAnswer> TakeBackAsync(Guid id, Guid person, CancellationToken ct)
    {
        switch (await FindAsync(id, ct))
        {
            case null:
                return new(DraftOutcome.NoSuchDraft);
            case { Decision: null } draft:
                Decide(draft, DraftDecision.Discarded, person);
                break;
            case { Decision: DraftDecision.Scheduled } draft:
                var proposed = Policy.FromJson(draft.Document);
                var version = await db.Policies.FirstAsync(p => p.Version == proposed.Version && p.WithdrawnAt == null, ct);
                if (version.EffectiveFrom <= clock.Today) return new(DraftOutcome.InForce);
                version.WithdrawnAt = clock.Now.ToUniversalTime();
                version.WithdrawnBy = person;
                Decide(draft, DraftDecision.Withdrawn, person);
                break;
            default:
                return new(DraftOutcome.DecidedAlready);
        }

        await db.SaveChangesAsync(ct);
        policies.Forget();
        await audit.RecordAsync(AccessKind.PolicyTakenBack, id, by: person);
        return new(DraftOutcome.TakenBack);
    }

    private Task<PolicyDraft?> FindAsync(Guid id, CancellationToken ct) => db.PolicyDrafts.FirstOrDefaultAsync(d => d.Id == id, ct);

    private void Decide(PolicyDraft draft, DraftDecision decision, Guid person)
    {
        draft.Decision = decision;
        draft.DecidedAt = clock.Now.ToUniversalTime();
        draft.DecidedBy = person;
    }
}
