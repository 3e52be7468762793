using System.Buffers;
using System.Globalization;
using System.Runtime.CompilerServices;
using System.Text;
using Registry.Intake.Formats.Hl7V2;
using Registry.Intake.Rows;
using Registry.Intake.Submissions;
using Registry.Platform;
using Registry.Records;

namespace Registry.Intake.Receiving;

/// <summary>
/// The acknowledgements of a finished submission of messages, in their order: read again from the stored bytes and the committed
/// outcomes, so that the first answer and a repeated one say the same. A batch is answered by a batch.
/// </summary>
public sealed class AcknowledgeSubmission(ReadSubmissions read, ProgramClock clock)
{
    private const int PageRows = 1_000;

    /// <returns>The submission that was answered; null, and nothing written, when it is not finished.</returns>
    public async Task<SubmissionStatus?> WriteAsync(SubmissionId id, IBufferWriter<byte> to, CancellationToken ct)
    {
        if (await read.StatusAsync(id, ct) is not { IsFinished: true } status) return null;
        using var bytes = read.Open(status);
        var write = new WriteAcknowledgement(to, clock.Zone);
        if (status.IsRefused) await RejectAsync(status, bytes, write, ct);
        else await AnswerAsync(id, bytes, write, ct);
        return status;
    }

    /// <summary>Nothing of the file was taken in: one answer, to its first message.</summary>
    private async Task RejectAsync(SubmissionStatus status, Stream bytes, WriteAcknowledgement write, CancellationToken ct)
    {
        var map = new MapMessage(clock.Zone);
        await foreach (var part in PartsAsync(bytes, ct))
        {
            if (part.Kind != PartKind.Message) continue;
            map.Read(part.Bytes.Span);
            break;
        }

        write.Rejected(map, 100, string.Join("; ", status.Errors.Take(5).Select(e => e.Reason)), clock.Now);
    }

    private async Task AnswerAsync(SubmissionId id, Stream bytes, WriteAcknowledgement write, CancellationToken ct)
    {
        var map = new MapMessage(clock.Zone);
        var rows = new Queue<RowReport>();
        var (after, answered) = (0, 0);
        await foreach (var part in PartsAsync(bytes, ct))
        {
            if (part.Kind != PartKind.Message)
            {
                Envelope(write, part, answered);
                answered = part.Kind is PartKind.BatchHeader ? 0 : answered;
                continue;
            }

            map.Read(part.Bytes.Span);
            var mine = new List<RowReport>(map.Rows.Count);
            while (mine.Count < map.Rows.Count)
            {
                if (rows.Count == 0)
                {
                    foreach (var row in (await read.RowsAsync(id, new(), after, PageRows, ct)).Rows) rows.Enqueue(row);
                    if (rows.Count == 0) break;
                }

                mine.Add(rows.Dequeue());
                after = mine[^1].Row;
            }

            write.Of(map, mine, clock.Now);
            answered++;
        }
    }

    /// <summary>The messages of the bytes and what stands around them. A part is to be read before the next is asked for.</summary>
    private static async IAsyncEnumerable<MessagePart> PartsAsync(Stream bytes, [EnumeratorCancellation] CancellationToken ct)
    {
        var split = new SplitMessages();
        var final = false;
        while (true)
        {
            while (split.Next(final, out var part)) yield return part;
            if (final || split.Problem is not null) yield break;
            var length = await bytes.ReadAsync(split.Free(), ct);
            split.Filled(length);
            final = length == 0;
        }
    }

    /// <summary>BHS and FHS of the reply: sender and receiver exchanged, the sender's control id as reference.</summary>
    private void Envelope(WriteAcknowledgement write, MessagePart part, int answered)
    {
        var fields = Encoding.Latin1.GetString(part.Bytes.Span).TrimEnd('\r', '\n')
            .Split(part.Bytes.Length > 3 ? (char)part.Bytes.Span[3] : '|');
        string Field(int number) => number - 1 < fields.Length && fields[number - 1].All(char.IsAscii)
            ? fields[number - 1].Replace('|', ' ') : "";
        switch (part.Kind)
        {
            case PartKind.FileHeader or PartKind.BatchHeader:
                // FHS-1 is the separator itself: field n stands at n - 1.
                write.Envelope(part.Kind == PartKind.FileHeader ? "FHS" : "BHS",
                [
                    "^~\\&", Field(5), Field(6), Field(3), Field(4),
                    clock.Now.UtcDateTime.ToString("yyyyMMddHHmmss", CultureInfo.InvariantCulture), "", "", "",
                    Guid.CreateVersion7().ToString("N")[..20], Field(11),
                ]);
                break;
            case PartKind.BatchTrailer:
                write.Envelope("BTS", [answered.ToString(CultureInfo.InvariantCulture)]);
                break;
            default:
                write.Envelope("FTS", [Field(2)]);
                break;
        }
    }
}
