using Microsoft.EntityFrameworkCore;
using Npgsql;
using Registry.Access;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Rules;

namespace Registry.SetUp;

/// <summary>Which published policy a registry starts from. Only while it holds no infant: after that a policy begins on a later day, and
/// what its days were counted by never changes.</summary>
public sealed class ChooseFirstPolicy(
    RegistryDb db, PolicyStore policies, ShowProgress progress, ProgramClock clock, Viewer viewer, AuditActs audit)
{
    public static readonly IReadOnlyList<Policy> Offered = [Policy.Default, Policy.OneTwoThree, Policy.CdcStrict];

    public async Task<bool> IsOpenAsync(CancellationToken ct) =>
        !await db.Infants.AnyAsync(ct) && await db.Policies.AllAsync(p => Offered.Select(o => o.Version).Contains(p.Version), ct);

    /// <returns>What is wrong, in words; null when the registry starts with it.</returns>
    public async Task<string?> RunAsync(string version, CancellationToken ct)
    {
        if (Offered.FirstOrDefault(p => p.Version == version) is not { } chosen) return SetUpWords.PolicyUnknown;
        await using (var transaction = await db.Database.BeginTransactionAsync(ct))
        {
            await AdvisoryLock.ForTransactionAsync((NpgsqlConnection)db.Database.GetDbConnection(), LockedThing.FirstPolicy, "", ct);
            if (!await IsOpenAsync(ct)) return SetUpWords.PolicyTooLate;
            var (now, by) = (clock.Now.ToUniversalTime(), viewer.PersonId);
            await db.Policies.Where(p => p.Version != version && p.WithdrawnAt == null).ExecuteUpdateAsync(
                u => u.SetProperty(p => p.WithdrawnAt, now).SetProperty(p => p.WithdrawnBy, by), ct);
            var known = await db.Policies.Where(p => p.Version == version).ExecuteUpdateAsync(
                u => u.SetProperty(p => p.WithdrawnAt, (DateTimeOffset?)null).SetProperty(p => p.WithdrawnBy, (Guid?)null), ct);
            if (known == 0)
            {
                db.Policies.Add(new()
                {
                    Version = chosen.Version,
                    EffectiveFrom = chosen.EffectiveFrom,
                    Document = chosen.ToJson(),
                    RecordedAt = now,
                    RecordedBy = by,
                });
                await db.SaveChangesAsync(ct);
            }

            await transaction.CommitAsync(ct);
        }

        policies.Forget();
        await audit.RecordAsync(AccessKind.PolicyScheduled, note: version);
        await progress.AnswerAsync(SetUpStep.Policy, ct);
        return null;
    }
}
