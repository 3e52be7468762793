using Microsoft.EntityFrameworkCore;
using Registry.Access;
using Registry.Platform;
using Registry.PolicyVersions;
using Registry.Records;

namespace Registry.HandOffs;

/// <summary>What a link shows once the child's birth date was given: whom it is about, and what is asked. Nothing that others
/// reported.</summary>
public sealed record LinkedQuestion(AnswerRequest Request, string Child, string Mother, DateOnly BornOn);

/// <summary>
/// Opens a link for an answer. It says nothing before the child's birth date is given with it; so many wrong ones close it, and a link that
/// is unknown, used, closed or run out is answered like a wrong date. What stands in the link is random, 256 bits of which only a hash is
/// kept: nobody makes one up, and an altered one is an unknown one.
/// </summary>
public sealed class OpenLink(RegistryDb db, PolicyStore policies, ProgramClock clock, TimeProvider time, AuditActs acts, AuditReads reads)
{
    /// <summary>Whether a link would open for who knows the birth date.</summary>
    public async Task<bool> IsOpenAsync(string token, CancellationToken ct) =>
        await FindAsync(token, ct) is { } request && AskForAnswer.IsOpen(request, time.GetUtcNow());

    /// <returns>Null for whoever is told nothing.</returns>
    public async Task<LinkedQuestion?> RunAsync(string token, DateOnly? born, CancellationToken ct)
    {
        if (born is not { } given || await FindAsync(token, ct) is not { } known) return null;
        var most = (await policies.InForceAsync(clock.Today, ct)).AnswerLinkTries;
        await using var transaction = await db.Database.BeginTransactionAsync(ct);
        var request = await db.LockOpenAsync(known.Id, time.GetUtcNow(), ct);
        var birth = await db.Births.AsNoTracking().SingleOrDefaultAsync(b => b.InfantId == known.InfantId && b.SupersededAt == null, ct);
        if (request is not null && birth is not null && birth.BornOn != given)
        {
            if (++request.Tries >= most) request.RevokedAt = clock.Now;
            await db.SaveChangesAsync(ct);
            request = null;
        }

        await transaction.CommitAsync(ct);
        if (request is null || birth is null)
        {
            await acts.RecordAsync(AccessKind.AnswerRefused, known.Id);
            return null;
        }

        await reads.OneAsync(request.InfantId, ct);
        return new(request, $"{birth.InfantGivenName} {birth.InfantFamilyName}".Trim(),
            $"{birth.MotherGivenName} {birth.MotherFamilyName}".Trim(), birth.BornOn);
    }

    private async Task<AnswerRequest?> FindAsync(string token, CancellationToken ct) => AskForAnswer.IsToken(token)
        ? await db.AnswerRequests.AsNoTracking().SingleOrDefaultAsync(r => r.TokenSha256 == AskForAnswer.Hash(token), ct) : null;
}
