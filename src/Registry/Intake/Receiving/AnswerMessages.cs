using System.Buffers;
using Npgsql;
using Registry.Intake.Applying;
using Registry.Intake.Formats.Hl7V2;
using Registry.Platform;
using Registry.Records;

namespace Registry.Intake.Receiving;

/// <summary>Takes messages in, works them through and answers them, for a connection that waits. AA and AE are said after the commit only,
/// AR when nothing was taken in. What is kept but could not be worked through has no answer yet: the sender sends the same again for
/// it.</summary>
public sealed class AnswerMessages(
    ReceiveSubmission receive, ProcessSubmission process, AcknowledgeSubmission acknowledge, ProgramClock clock,
    ILogger<AnswerMessages> log)
{
    private const int Attempts = 100;

    /// <summary>Answers whatever the bytes are.</summary>
    /// <returns>False when there is no answer: the bytes are kept, and what became of them is not known yet.</returns>
    public async Task<bool> RunAsync(SiteId site, ReadOnlyMemory<byte> bytes, IBufferWriter<byte> to, CancellationToken ct)
    {
        var isKept = false;
        try
        {
            using var body = new MemoryStream(bytes.ToArray());
            var receipt = await receive.ReceiveAsync(site, SubmissionFormat.Hl7V2, null, body, default, clock.Now, null, null, ct);
            switch (receipt.Kind)
            {
                case ReceiptKind.KeyInUse:
                    Reject(bytes, 206, "the same message is being taken in on another connection: send it again", to);
                    return true;
                case ReceiptKind.TooLarge:
                    Reject(bytes, 102, "is larger than this registry takes at once", to);
                    return true;
            }

            isKept = true;
            return await FinishAsync(receipt.Id, to, ct);
        }
        catch (Exception e) when (e is not OperationCanceledException)
        {
            // The text of a database error can repeat values.
            log.LogError("A message could not be {Step}: {Error}", isKept ? "worked through" : "taken in",
                e is PostgresException p ? p.SqlState : e.GetType().Name);
            if (isKept) return false;
            RejectForFault(bytes, to);
            return true;
        }
    }

    /// <summary>Works a received submission through, or waits for the worker that is at it, and answers.</summary>
    public async Task<bool> FinishAsync(SubmissionId id, IBufferWriter<byte> to, CancellationToken ct)
    {
        for (var attempt = 0; attempt < Attempts; attempt++)
        {
            await process.RunAsync(id.Value, CancellationToken.None);
            if (await acknowledge.WriteAsync(id, to, ct)) return true;
            await Task.Delay(100, ct);
        }

        return false;
    }

    /// <summary>AR for a fault of ours: the sender is asked to send the same again.</summary>
    public void RejectForFault(ReadOnlyMemory<byte> bytes, IBufferWriter<byte> to) =>
        Reject(bytes, 207, "a fault of the registry: send the message again, unchanged", to);

    /// <summary>AR: nothing of the message was taken in.</summary>
    public void Reject(ReadOnlyMemory<byte> bytes, int code, string reason, IBufferWriter<byte> to, int? headerField = null)
    {
        var map = new MapMessage(clock.Zone);
        map.Read(bytes.Span);
        new WriteAcknowledgement(to, clock.Zone)
            .Rejected(map, code, reason, clock.Now, headerField is { } field ? new Location(0, field) : null);
    }
}
