using Microsoft.EntityFrameworkCore;
using Npgsql;
using NpgsqlTypes;
using Registry.Access;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;

namespace Registry.Infants.Record;

/// <summary>Somebody infants can be given to.</summary>
/// <param name="Counties">Whose infants they see in any case.</param>
public sealed record CaseWorker(Guid Id, string Name, IReadOnlyList<string> Counties);

/// <summary>One time an infant was somebody's.</summary>
public sealed record Assigned(string Worker, DateTimeOffset AssignedAt, string AssignedBy, DateTimeOffset? EndedAt);

/// <summary>Who an infant was given to, the latest first, and whom a coordinator may give it to.</summary>
/// <param name="Workers">Null for whoever gives infants to nobody.</param>
public sealed record CaseWorkerView(IReadOnlyList<Assigned> History, IReadOnlyList<CaseWorker>? Workers);

public enum AssignProblem
{
    /// <summary>Only coordinators give infants to case workers.</summary>
    NotYours,
    NobodyTicked,
    NoSuchWorker,

    /// <summary>It is another person's: a coordinator gives it.</summary>
    Taken,
}

/// <param name="Problem">Null: it is done.</param>
/// <param name="Changed">How many infants have another case worker now, or none any more.</param>
/// <param name="Worker">Who has them now; null: nobody.</param>
public sealed record AssignAnswer(AssignProblem? Problem, int Changed = 0, string? Worker = null);

/// <summary>Gives infants to case workers, one or several at once; what was before is kept. Each is in the trail.</summary>
public sealed class AssignInfants(NpgsqlDataSource source, RegistryDb db, Viewer viewer, AuditActs audit, TimeProvider clock)
{
    private const int Most = 500;

    private static readonly string Sql = EmbeddedSql.Of<AssignInfants>();

    /// <param name="infants">Those that do not exist are passed over.</param>
    /// <param name="worker">Null: nobody.</param>
    /// <param name="ct">Cancels.</param>
    public async Task<AssignAnswer> RunAsync(IReadOnlyCollection<InfantId> infants, Guid? worker, CancellationToken ct)
    {
        if (!viewer.IsCoordinator || viewer.PersonId is not { } by) return new(AssignProblem.NotYours);
        if (infants.Count is 0 or > Most) return new(AssignProblem.NobodyTicked);
        var given = worker is null ? null : (await WorkersAsync(ct)).FirstOrDefault(w => w.Id == worker);
        if (worker is not null && given is null) return new(AssignProblem.NoSuchWorker);
        var changed = await ChangeAsync([.. infants.Select(i => i.Value)], worker, by, ct);
        var note = worker is null ? "taken" : "given";
        await Task.WhenAll(changed.Select(i => audit.RecordAsync(AccessKind.InfantAssigned, worker, note, infant: new(i))));
        return new(null, changed.Count, given?.Name);
    }

    /// <summary>Takes an infant for oneself: a coordinator any, a case worker one they see that nobody has.</summary>
    public async Task<AssignAnswer> TakeAsync(InfantId infant, CancellationToken ct)
    {
        if (viewer is not ({ IsCoordinator: true } or { IsCaseWorker: true }) || viewer.PersonId is not { } me)
            return new(AssignProblem.NotYours);
        if (!await db.VisibleInfants(viewer with { Glasses = [] }).AnyAsync(i => i.Id == infant, ct)) return new(AssignProblem.NotYours);
        if (!viewer.IsCoordinator && await db.InfantAssignments.AnyAsync(
            a => a.InfantId == infant && a.EndedAt == null && a.PersonId != me, ct)) return new(AssignProblem.Taken);
        var changed = await ChangeAsync([infant.Value], me, me, ct);
        foreach (var id in changed) await audit.RecordAsync(AccessKind.InfantAssigned, me, "taken", infant: new(id));
        return new(null, changed.Count, viewer.Name);
    }

    private async Task<HashSet<Guid>> ChangeAsync(Guid[] infants, Guid? worker, Guid by, CancellationToken ct)
    {
        await using var connection = await source.OpenConnectionAsync(ct);
        await using var transaction = await connection.BeginTransactionAsync(ct);
        var changed = new HashSet<Guid>();
        for (var pass = 0; pass < 2; pass++)
        {
            await using var command = new NpgsqlCommand(Sql, connection);
            command.Parameters.AddWithValue("infants", infants);
            command.Parameters.AddNullable("worker", worker, NpgsqlDbType.Uuid);
            command.Parameters.AddWithValue("by", by);
            command.Parameters.AddWithValue("now", clock.GetUtcNow());
            await using var reader = await command.ExecuteReaderAsync(ct);
            while (await reader.ReadAsync(ct)) changed.Add(reader.GetGuid(0));
        }

        await transaction.CommitAsync(ct);
        return changed;
    }

    /// <summary>Those who get in and are case workers or coordinators, in their first place or another.</summary>
    public async Task<IReadOnlyList<CaseWorker>> WorkersAsync(CancellationToken ct)
    {
        var also = await db.PersonPlaces.AsNoTracking().Where(p => p.Role == Role.CaseWorker || p.Role == Role.Coordinator)
            .ToListAsync(ct);
        var ids = also.ConvertAll(p => p.PersonId);
        return [.. (await db.Users.AsNoTracking()
            .Where(p => p.DisabledAt == null && (p.Role == Role.CaseWorker || p.Role == Role.Coordinator || ids.Contains(p.Id)))
            .OrderBy(p => p.DisplayName).Select(p => new { p.Id, p.DisplayName, p.Counties }).ToListAsync(ct))
            .Select(p => new CaseWorker(p.Id, p.DisplayName,
                [.. also.Where(a => a.PersonId == p.Id).SelectMany(a => a.Counties).Concat(p.Counties).Distinct()]))];
    }

    /// <summary>Who has these infants now.</summary>
    public async Task<IReadOnlyDictionary<InfantId, string>> NamesAsync(IReadOnlyList<InfantId> infants, CancellationToken ct) =>
        await (
            from a in db.InfantAssignments
            join p in db.Users on a.PersonId equals p.Id
            where infants.Contains(a.InfantId) && a.EndedAt == null
            select new { a.InfantId, p.DisplayName }).ToDictionaryAsync(a => a.InfantId, a => a.DisplayName, ct);

    /// <summary>Of an infant the viewer was shown.</summary>
    public async Task<CaseWorkerView?> OfAsync(InfantId infant, CancellationToken ct)
    {
        var history = await (
            from a in db.InfantAssignments
            join p in db.Users on a.PersonId equals p.Id
            join b in db.Users on a.AssignedBy equals b.Id
            where a.InfantId == infant
            orderby a.AssignedAt descending
            select new Assigned(p.DisplayName, a.AssignedAt, b.DisplayName, a.EndedAt)).ToListAsync(ct);
        var workers = viewer.IsCoordinator ? await WorkersAsync(ct) : null;
        return history.Count == 0 && workers is not { Count: > 0 } ? null : new(history, workers);
    }
}
