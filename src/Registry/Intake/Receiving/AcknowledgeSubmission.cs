using System.Buffers;
using System.Text;
using Npgsql;
using Registry.Intake.Formats.Hl7V2;
using Registry.Intake.Raw;
using Registry.Intake.Rows;
using Registry.Intake.Submissions;
using Registry.Platform;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Intake.Receiving;

/// <summary>
/// The acknowledgements of a finished submission of messages, in their order: read again from the stored bytes and the committed
/// outcomes, so that the first answer and a repeated one say the same. A batch is answered by a batch.
/// </summary>
public sealed class AcknowledgeSubmission(NpgsqlDataSource source, ReadSubmissions read, ProgramClock clock)
{
    private const int PageRows = 1_000;

    /// <returns>False when the submission is not finished.</returns>
    public async Task<bool> WriteAsync(SubmissionId id, IBufferWriter<byte> to, CancellationToken ct)
    {
        if (await read.StatusAsync(id, ct) is not { IsFinished: true } status) return false;
        var map = new MapMessage(clock.Zone);
        var write = new WriteAcknowledgement(to, clock.Zone);
        using var bytes = new SubmissionStream(source.CreateCommand, id, status.Bytes);
        var split = new SplitMessages();
        var rows = new Queue<RowReport>();
        var (after, final, answered) = (0, false, 0);
        while (true)
        {
            if (!split.Next(final, out var part))
            {
                if (final || split.Problem is not null) break;
                var length = await bytes.ReadAsync(split.Free(), ct);
                split.Filled(length);
                final = length == 0;
                continue;
            }

            if (status.State == Codes.Of(SubmissionState.Refused))
            {
                if (part.Kind != PartKind.Message) continue;
                // Nothing of the file was taken in: one answer, to its first message.
                map.Read(part.Bytes.Span);
                break;
            }

            if (part.Kind != PartKind.Message)
            {
                Envelope(write, part, answered, clock);
                answered = part.Kind is PartKind.BatchHeader ? 0 : answered;
                continue;
            }

            map.Read(part.Bytes.Span);
            var mine = new List<RowReport>(map.Rows.Count);
            while (mine.Count < map.Rows.Count)
            {
                if (rows.Count == 0)
                {
                    foreach (var row in (await read.RowsAsync(id, new RowFilter(), after, PageRows, ct)).Rows) rows.Enqueue(row);
                    if (rows.Count == 0) break;
                }

                mine.Add(rows.Dequeue());
                after = mine[^1].Row;
            }

            write.Of(map, mine, clock.Now);
            answered++;
        }

        if (status.State == Codes.Of(SubmissionState.Refused))
            write.Rejected(map, 100, string.Join("; ", status.Errors.Take(5).Select(e => e.Reason)), clock.Now);
        return true;
    }

    /// <summary>BHS and FHS of the reply: sender and receiver exchanged, the sender's control id as reference.</summary>
    private static void Envelope(WriteAcknowledgement write, MessagePart part, int answered, ProgramClock clock)
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
                    clock.Now.UtcDateTime.ToString("yyyyMMddHHmmss", System.Globalization.CultureInfo.InvariantCulture), "", "", "",
                    Guid.CreateVersion7().ToString("N")[..20], Field(11),
                ]);
                break;
            case PartKind.BatchTrailer:
                write.Envelope("BTS", [answered.ToString(System.Globalization.CultureInfo.InvariantCulture)]);
                break;
            default:
                write.Envelope("FTS", [Field(2)]);
                break;
        }
    }
}
