using Microsoft.EntityFrameworkCore;
using Npgsql;
using Registry.Access;
using Registry.Infants.Counting;
using Registry.Infants.Statuses;
using Registry.Platform;
using Registry.PolicyVersions;
using Registry.Records;

namespace Registry.Erasure;

public enum ErasureAnswer
{
    Asked, Refused, Erased, NoSuchInfant, AskedAlready, NoSuchRequest,

    /// <summary>Whoever asked for it may not do it.</summary>
    NeedsAnother,

    /// <summary>Something the infant's sites sent is still being worked through.</summary>
    StillProcessed,
}

/// <summary>A request as a page shows it.</summary>
public sealed record WaitingErasure(ErasureRequest Request, string AskedBy);

/// <summary>
/// Removes a person's values in two steps by two people. What is counted stays: codes, results, the order and spacing of dates. What says
/// who it was goes: names, numbers, the mother, ways to reach the family, the day of birth (its month stays), and the files it came in. The
/// database does it in one function that asks again who asked (Records/Guards.Erasure.sql); the trail holds none of this and stays whole.
/// </summary>
public sealed class DecideErasure(
    RegistryDb db, NpgsqlDataSource source, PolicyStore policies, ProgramClock clock, AuditActs audit, Viewer viewer)
{
    private Guid Person => viewer.PersonId ?? throw new InvalidOperationException("A person decides about an erasure.");

    public async Task<ErasureAnswer> AskAsync(InfantId infant, ErasureReason reason, CancellationToken ct)
    {
        if (!await db.VisibleInfants(viewer).AnyAsync(i => i.Id == infant, ct)) return ErasureAnswer.NoSuchInfant;
        if (await WaitingAsync(infant, ct) is not null) return ErasureAnswer.AskedAlready;
        var request = new ErasureRequest
        {
            Id = Guid.CreateVersion7(),
            InfantId = infant,
            Reason = reason,
            AskedAt = clock.Now.ToUniversalTime(),
            AskedBy = Person,
        };
        db.ErasureRequests.Add(request);
        await db.SaveChangesAsync(ct);
        await audit.RecordAsync(AccessKind.ErasureAsked, request.Id, Rules.Facts.Codes.Of(reason), infant: infant);
        return ErasureAnswer.Asked;
    }

    public async Task<ErasureAnswer> RefuseAsync(Guid id, CancellationToken ct)
    {
        if (await db.ErasureRequests.FirstOrDefaultAsync(e => e.Id == id && e.Decision == null, ct) is not { } request)
            return ErasureAnswer.NoSuchRequest;
        (request.Decision, request.DecidedAt, request.DecidedBy) = (ErasureDecision.Refused, clock.Now.ToUniversalTime(), Person);
        await db.SaveChangesAsync(ct);
        await audit.RecordAsync(AccessKind.ErasureRefused, id, infant: request.InfantId);
        return ErasureAnswer.Refused;
    }

    /// <summary>Removes the values; there is no way back.</summary>
    public async Task<ErasureAnswer> EraseAsync(Guid id, CancellationToken ct)
    {
        if (await db.ErasureRequests.AsNoTracking().FirstOrDefaultAsync(e => e.Id == id && e.Decision == null, ct) is not { } request)
            return ErasureAnswer.NoSuchRequest;
        if (request.AskedBy == Person) return ErasureAnswer.NeedsAnother;
        var policy = await policies.InForceAsync(clock.Today, ct);
        await using var connection = await source.OpenConnectionAsync(ct);
        await using var transaction = await connection.BeginTransactionAsync(ct);
        var found = await KeptRowKeys.ReadAsync(connection, request.InfantId, ct);
        await using (var erase = new NpgsqlCommand("select erase_infant($1, $2, $3, $4, $5)", connection))
        {
            erase.Parameters.AddWithValue(id);
            erase.Parameters.AddWithValue(Person);
            erase.Parameters.AddWithValue(found.Identifiers.Select(i => i.Key).ToArray());
            erase.Parameters.AddWithValue(found.Identifiers.Select(i => i.Site).ToArray());
            erase.Parameters.AddWithValue(found.Births);
            try
            {
                await erase.ExecuteNonQueryAsync(ct);
            }
            catch (PostgresException refused) when (refused.SqlState == PostgresErrorCodes.ObjectInUse)
            {
                return ErasureAnswer.StillProcessed;
            }
        }

        await RecomputeStatuses.ForInfantsAsync(connection, [request.InfantId.Value], clock.Today, policy, ct);
        // What is counted of the infant now and what was take each other away: the days it stood under go with them.
        await FoldCounts.AllAsync(connection, ct);
        await CountStatuses.RunAsync(connection, clock.Today, ct);
        await transaction.CommitAsync(ct);
        await audit.RecordAsync(AccessKind.Erased, id, infant: request.InfantId);
        return ErasureAnswer.Erased;
    }

    public Task<ErasureRequest?> WaitingAsync(InfantId infant, CancellationToken ct) =>
        db.ErasureRequests.AsNoTracking().FirstOrDefaultAsync(e => e.InfantId == infant && e.Decision == null, ct);

    /// <summary>Every request that waits, the oldest first.</summary>
    public async Task<IReadOnlyList<WaitingErasure>> AllWaitingAsync(CancellationToken ct) =>
        await db.ErasureRequests.AsNoTracking().Where(e => e.Decision == null).OrderBy(e => e.AskedAt)
            .Select(e => new WaitingErasure(e, db.Users.Where(p => p.Id == e.AskedBy).Select(p => p.DisplayName).FirstOrDefault() ?? ""))
            .ToListAsync(ct);

    /// <summary>Infants whose time is over by the policy in force and for whom nobody asked or decided yet: the oldest, and how many.
    /// Nobody is erased by a clock.</summary>
    public async Task<(IReadOnlyList<InfantId> Oldest, int Total, DateOnly BornBefore)> OverdueAsync(int most, CancellationToken ct)
    {
        var before = clock.Today.AddYears(-(await policies.InForceAsync(clock.Today, ct)).RetentionYears);
        var requests = db.ErasureRequests;
        var over = db.InfantStatuses.AsNoTracking()
            .Where(s => s.BornOn < before
                && !requests.Any(e => e.InfantId == s.InfantId && e.Decision != ErasureDecision.Refused));
        return (await over.OrderBy(s => s.BornOn).Select(s => s.InfantId).Take(most).ToListAsync(ct), await over.CountAsync(ct), before);
    }
}
