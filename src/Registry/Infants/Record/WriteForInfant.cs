using Microsoft.EntityFrameworkCore;
using Npgsql;
using Registry.Access;
using Registry.Infants.Statuses;
using Registry.Platform;
using Registry.PolicyVersions;
using Registry.Records;

namespace Registry.Infants.Record;

/// <summary>What every page does that writes about one infant: asks whether the viewer may, lets two writers take turns, and recomputes
/// the status in the same transaction.</summary>
public sealed class WriteForInfant(RegistryDb db, ProgramClock clock, PolicyStore policies, Viewer viewer)
{
    /// <remarks>A record that is open by a broken glass is read only: what a site writes about an infant would show it for good.</remarks>
    public Task<bool> MayAsync(InfantId infant, CancellationToken ct) =>
        db.VisibleInfants(viewer with { Glasses = [] }).AnyAsync(i => i.Id == infant, ct);

    /// <param name="infant">About whom; locked until the transaction ends.</param>
    /// <param name="write">Adds and changes rows, and answers what became of it; they are saved after it.</param>
    /// <param name="ct">Cancels.</param>
    public async Task<T> RunAsync<T>(InfantId infant, Func<Task<T>> write, CancellationToken ct)
    {
        await using var transaction = await db.Database.BeginTransactionAsync(ct);
        await db.Database.ExecuteSqlAsync($"select from infants where id = {infant.Value} for no key update", ct);
        var answer = await write();
        await db.SaveChangesAsync(ct);
        var policy = await policies.InForceAsync(clock.Today, ct);
        await RecomputeStatuses.ForInfantsAsync((NpgsqlConnection)db.Database.GetDbConnection(), [infant.Value], clock.Today, policy, ct);
        await transaction.CommitAsync(ct);
        return answer;
    }
}
