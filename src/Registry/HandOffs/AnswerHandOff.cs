using Microsoft.EntityFrameworkCore;
using Registry.Access;
using Registry.Infants.Record;
using Registry.Platform;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.HandOffs;

/// <summary>Says of a hand-off that it arrived, is taken on, comes back, is taken back, or that the family consented.</summary>
public sealed class AnswerHandOff(RegistryDb db, WriteForInfant write, ProgramClock clock, Viewer viewer, AuditActs audit)
{
    /// <summary>Who at a site answers what was handed to it.</summary>
    private static readonly HashSet<Role> Receivers = [Role.AudiologyClinic, Role.InterventionProgram, Role.SiteManager, Role.Screener];

    /// <param name="id">Which hand-off.</param>
    /// <param name="act">What is said of it.</param>
    /// <param name="reason">Why it comes back, or is taken back.</param>
    /// <param name="consentOn">The day the family consented.</param>
    /// <param name="ct">Cancels.</param>
    public async Task<(HandOffAnswer Answer, InfantId? Infant)> RunAsync(
        Guid id, HandOffAct? act, HandOffReason? reason, DateOnly? consentOn, CancellationToken ct)
    {
        var handOff = await db.HandOffs.AsNoTracking().SingleOrDefaultAsync(h => h.Id == id, ct);
        if (handOff is null || act is not { } done || !await MayAsync(handOff, done, ct)) return (HandOffAnswer.NoSuchHandOff, null);
        var infant = handOff.InfantId;
        if (done is HandOffAct.Returned or HandOffAct.Withdrawn && (reason is not { } why || !Enum.IsDefined(why)))
            return (HandOffAnswer.SayWhy, infant);
        if (done == HandOffAct.ConsentRecorded && consentOn is null) return (HandOffAnswer.NotUnderstood, infant);
        if (consentOn > clock.Today) return (HandOffAnswer.ConsentInTheFuture, infant);
        var answer = await write.RunAsync(infant, () => WriteAsync(id, new()
        {
            HandOffId = id,
            Act = done,
            At = clock.Now,
            PersonId = viewer.PersonId,
            Role = viewer.Role,
            SiteId = viewer.SiteId,
            Reason = done is HandOffAct.Returned or HandOffAct.Withdrawn ? reason : null,
        }, consentOn, ct), ct);
        if (answer == HandOffAnswer.Recorded) await audit.RecordAsync(AccessKind.HandedOff, id, Codes.Of(done), infant: infant);
        return (answer, infant);
    }

    /// <summary>What somebody may say of a hand-off: the site it went to, or who continues it, whether it takes the
    /// infant on; who sees the record and sent it, or the program's own people, all the rest, and what somebody without an account
    /// said on the telephone.</summary>
    public async Task<bool> MayAsync(HandOff handOff, HandOffAct act, CancellationToken ct)
    {
        if (viewer.PersonId is null || viewer.Role is not { } role || !Enum.IsDefined(act) || act == HandOffAct.Sent) return false;
        var answers = act is HandOffAct.Received or HandOffAct.Accepted or HandOffAct.Returned;
        if (answers && handOff.ToSiteId is { } to && await db.SpeaksForAsync(viewer.SiteId, to, ct)) return Receivers.Contains(role);
        if (viewer.IsCoordinator) return true;
        var sent = viewer.IsCaseWorker
            || Receivers.Contains(role) && await db.SpeaksForAsync(viewer.SiteId, handOff.SentForSiteId, ct);
        return sent && (!answers || handOff.ToSiteId is null) && await write.MayAsync(handOff.InfantId, ct);
    }

    /// <summary>Writes one event, within the caller's transaction and under its lock of the infant.</summary>
    internal async Task<HandOffAnswer> WriteAsync(Guid id, HandOffEvent happened, DateOnly? consentOn, CancellationToken ct)
    {
        var handOff = await db.HandOffs.SingleAsync(h => h.Id == id, ct);
        await db.Entry(handOff).ReloadAsync(ct); // as it is now that nobody else writes
        if (handOff.SupersededAt is not null || !Follows(handOff, happened.Act)) return HandOffAnswer.NotOpen;
        db.HandOffEvents.Add(happened);
        switch (happened.Act)
        {
            case HandOffAct.ConsentRecorded:
                handOff.ConsentOn = consentOn;
                handOff.ShownToSiteId = SendHandOff.ShownTo(handOff.Kind, handOff.ToSiteId, consentOn);
                break;
            case HandOffAct.Received:
            case HandOffAct.Accepted:
                handOff.State = happened.Act == HandOffAct.Accepted ? HandOffState.Accepted : HandOffState.Received;
                if (handOff.AcknowledgedOn is null) await AcknowledgeAsync(handOff, happened.At, ct);
                break;
            default:
                handOff.State = happened.Act == HandOffAct.Returned ? HandOffState.Returned : HandOffState.Withdrawn;
                handOff.SupersededAt = happened.At;
                if (happened.Reason == HandOffReason.SentByMistake) await TakeBackFactsAsync(handOff, happened.At, ct);
                break;
        }

        return HandOffAnswer.Recorded;
    }

    internal static bool Follows(HandOff handOff, HandOffAct act) => act switch
    {
        HandOffAct.Received => handOff.State == HandOffState.Sent,
        HandOffAct.Accepted => handOff.State is HandOffState.Sent or HandOffState.Received,
        HandOffAct.ConsentRecorded => handOff.ConsentOn is null,
        _ => true,
    };

    /// <summary>The receipt of a referral to early intervention is a fact: the 45 days run from it (34 CFR 303.310). It is recorded for the
    /// site that referred, since a fact of the program's own would open the record to it.</summary>
    private async Task AcknowledgeAsync(HandOff handOff, DateTimeOffset at, CancellationToken ct)
    {
        handOff.AcknowledgedOn = clock.Today;
        if (handOff.Kind != HandOffKind.InterventionProgram || await db.Interventions.AnyAsync(i => i.InfantId == handOff.InfantId
            && i.Kind == InterventionKind.ReferralReceived && i.SupersededAt == null, ct)) return;
        db.Interventions.Add(new()
        {
            Id = Guid.CreateVersion7(),
            InfantId = handOff.InfantId,
            SiteId = handOff.SentForSiteId,
            RecordedAt = at,
            Kind = InterventionKind.ReferralReceived,
            HappenedOn = clock.Today,
        });
    }

    private async Task TakeBackFactsAsync(HandOff handOff, DateTimeOffset at, CancellationToken ct)
    {
        foreach (var fact in await db.Interventions.Where(i => i.Id == handOff.Id && i.SupersededAt == null).ToListAsync(ct))
            fact.SupersededAt = at;
        foreach (var fact in await db.Moves.Where(m => m.Id == handOff.Id && m.SupersededAt == null).ToListAsync(ct))
            fact.SupersededAt = at;
    }
}
