using System.Buffers;
using Registry.Intake.Formats.Hl7V2;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;

namespace Registry.Intake.Receiving;

/// <summary>Takes messages in, works them through and answers them, for a connection that waits. AA and AE are said after the commit only,
/// AR when nothing was taken in. What is kept but could not be worked through has no answer yet: the sender sends the same again for
/// it.</summary>
public sealed class AnswerMessages(Submit submit, AcknowledgeSubmission acknowledge, ProgramClock clock, ILogger<AnswerMessages> log)
{
    /// <summary>Answers whatever the bytes are.</summary>
    /// <returns>False when there is no answer: what became of the bytes is not known yet.</returns>
    public async Task<bool> RunAsync(SiteId site, ReadOnlyMemory<byte> bytes, IBufferWriter<byte> to, CancellationToken ct)
    {
        try
        {
            using var body = new MemoryStream(bytes.ToArray());
            var submitted = await submit.RunAsync(
                new(site, SubmissionFormat.Hl7V2, default, clock.Now), body, length: null, Patience.UntilFinished, ct);
            if (submitted is Submitted.Stored stored) return await acknowledge.WriteAsync(stored.Id, to, ct) is not null;
            if (submitted is not Submitted.Nothing nothing) return false;
            Reject(bytes, nothing.Why, to);
            return true;
        }
        catch (Exception e) when (e is not OperationCanceledException)
        {
            log.LogError("A message could not be answered: {Error}", DatabaseOutage.Name(e));
            return false;
        }
    }

    /// <summary>AR for a fault of ours: the sender is asked to send the same again.</summary>
    public void RejectForFault(ReadOnlyMemory<byte> bytes, IBufferWriter<byte> to) => Reject(bytes, NotStored.Fault, to);

    /// <summary>AR: nothing of the message was taken in.</summary>
    public void Reject(ReadOnlyMemory<byte> bytes, int code, string reason, IBufferWriter<byte> to, int? headerField = null)
    {
        var map = new MapMessage(clock.Zone);
        map.Read(bytes.Span);
        new WriteAcknowledgement(to, clock.Zone)
            .Rejected(map, code, reason, clock.Now, headerField is { } field ? new Location(0, field) : null);
    }

    private void Reject(ReadOnlyMemory<byte> bytes, NotStored why, IBufferWriter<byte> to)
    {
        var (code, reason) = why switch
        {
            NotStored.KeyInUse => (206, "the same message is being taken in on another connection: send it again"),
            NotStored.SlowedDown => (207, "many card ids led nowhere today: nothing was taken in, send the message again later"),
            NotStored.TooLarge => (102, "is larger than this registry takes at once"),
            NotStored.StorageFull => (207, "the storage of this site is full: ask the registry for more, then send the message again"),
            _ => (207, "a fault of the registry: send the message again, unchanged"),
        };
        Reject(bytes, code, reason, to);
    }
}
