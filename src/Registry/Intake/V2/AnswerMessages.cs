using System.Buffers;
using Npgsql;
using Registry.Platform;
using Registry.Records;

namespace Registry.Intake.V2;

/// <summary>Takes messages in, works them through and answers them, for a connection that waits. AA and AE are said after the commit only;
/// when that fails nothing was taken in, and the sender is asked to send the same again.</summary>
public sealed class AnswerMessages(
    ReceiveSubmission receive, ProcessSubmission process, AcknowledgeSubmission acknowledge, ProgramClock clock, ILogger<AnswerMessages> log)
{
    private const int Attempts = 100;

    /// <summary>Answers whatever the bytes are.</summary>
    public async Task RunAsync(SiteId site, ReadOnlyMemory<byte> bytes, IBufferWriter<byte> to, CancellationToken ct)
    {
        try
        {
            using var body = new MemoryStream(bytes.ToArray());
            var receipt = await receive.ReceiveAsync(site, SubmissionFormat.Hl7V2, null, body, default, clock.Now, null, null, ct);
            switch (receipt.Kind)
            {
                case ReceiptKind.KeyInUse:
                    Reject(bytes, 206, "the same message is being taken in on another connection: send it again", to);
                    return;
                case ReceiptKind.TooLarge:
                    Reject(bytes, 207, "is larger than this registry takes at once", to);
                    return;
            }

            if (await FinishAsync(receipt.Id, to, ct)) return;
            Reject(bytes, 207, "the message is kept, but was not worked through in time: send it again, unchanged, for its answer", to);
        }
        catch (Exception e) when (e is not OperationCanceledException)
        {
            // The text of a database error can repeat values.
            log.LogError("A message could not be taken in: {Error}", e is PostgresException p ? p.SqlState : e.GetType().Name);
            Reject(bytes, 207, "a fault of the registry: send the message again, unchanged", to);
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

    /// <summary>AR: nothing of the message was taken in.</summary>
    public void Reject(ReadOnlyMemory<byte> bytes, int code, string reason, IBufferWriter<byte> to, int? headerField = null)
    {
        var map = new MapMessage(clock.Zone);
        map.Read(bytes.Span);
        new WriteAcknowledgement(to, clock.Zone).Rejected(map, code, reason, clock.Now, headerField is { } field ? new Location(0, field) : null);
    }
}
