using Microsoft.EntityFrameworkCore;
using Registry.Access;
using Registry.Platform;
using Registry.Records;
using Registry.Rules.Work;

namespace Registry.Infants.Record;

public enum PutOffAnswer { Recorded, Ended, NoSuchInfant, NotUnderstood, NotInTheFuture }

/// <summary>Decides that an infant's family is not called before a day, and why; or that it is called at once after all.</summary>
public sealed class PutOffInfant(RegistryDb db, WriteForInfant write, ProgramClock clock, Viewer viewer)
{
    /// <summary>Longer is no putting off.</summary>
    public const int MostDays = 180;

    /// <param name="infant">Who.</param>
    /// <param name="until">The day to call; null: at once.</param>
    /// <param name="reason">Why it is put off.</param>
    /// <param name="ct">Cancels.</param>
    public async Task<PutOffAnswer> RunAsync(InfantId infant, DateOnly? until, PutOffReason? reason, CancellationToken ct)
    {
        if (viewer.PersonId is not { } person || !await write.MayAsync(infant, ct)) return PutOffAnswer.NoSuchInfant;
        if (until is not null && (reason is not { } known || !Enum.IsDefined(known))) return PutOffAnswer.NotUnderstood;
        if (until <= clock.Today || until > clock.Today.AddDays(MostDays)) return PutOffAnswer.NotInTheFuture;
        return await write.RunAsync(infant, async () =>
        {
            foreach (var former in await db.WorkPutOffs.Where(p => p.InfantId == infant && p.EndedAt == null).ToListAsync(ct))
                former.EndedAt = clock.Now;
            await db.SaveChangesAsync(ct);
            if (until is not { } day) return PutOffAnswer.Ended;
            db.WorkPutOffs.Add(new()
            {
                Id = Guid.CreateVersion7(),
                InfantId = infant,
                UntilOn = day,
                Reason = reason!.Value,
                DecidedBy = person,
                DecidedAt = clock.Now,
            });
            return PutOffAnswer.Recorded;
        }, ct);
    }
}
