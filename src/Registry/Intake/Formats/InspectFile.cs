using System.Buffers;
using System.Text;
using Registry.Intake.Formats.Workbooks;
using Registry.Intake.Raw;
using Registry.Intake.Rows;
using Registry.Records;

namespace Registry.Intake.Formats;

/// <summary>What was found out about a file before any of its rows is applied.</summary>
public sealed record Inspected(HowToRead Read, int RowCount, IReadOnlyList<FileProblem> Problems);

/// <summary>Reads a whole file once: unpacks it, finds out its encoding and columns, counts its rows, and says what is wrong with
/// it.</summary>
public static class InspectFile
{
    /// <param name="sent">What is stated with it.</param>
    /// <param name="bytes">The body, taken in to its end whatever is wrong.</param>
    /// <param name="again">The bytes once more, from any position.</param>
    /// <param name="findMapping">The mapping for a header: by name if one is given, else by the header.</param>
    /// <param name="limits">How large a file may be.</param>
    /// <param name="ct">Cancels.</param>
    /// <exception cref="BodyTooLargeException"/>
    public static async Task<Inspected> RunAsync(
        SentFile sent, ReceivedBytes bytes, Func<Stream> again, Func<IReadOnlyList<string>, Task<SavedMapping?>> findMapping,
        IntakeOptions limits, CancellationToken ct)
    {
        var read = new HowToRead(sent.Format, sent.DefaultKind) { Gzip = sent.Gzip, Sheet = sent.Sheet };
        var rows = 0;
        List<FileProblem> problems;
        try
        {
            (read, rows, problems) = sent.Format == SubmissionFormat.Xlsx ? await InspectWorkbookAsync() : await InspectTextAsync();
        }
        catch (UnreadableFileException e)
        {
            problems = [e.Problem];
        }
        catch (DecoderFallbackException)
        {
            problems = [new(0, null, "the text is not sound UTF-16: half a character is missing")];
        }

        await bytes.ReadToEndAsync(ct);
        if (problems.Count == 0 && rows > limits.MaxRows)
            problems = [new(0, null, $"the file has {rows} rows; send at most {limits.MaxRows} at once")];
        return new(read, problems.Count > 0 ? 0 : rows, problems);

        async Task<(HowToRead, int, List<FileProblem>)> InspectTextAsync()
        {
            await using var gunzip = sent.Gzip ? new GunzipWithin(bytes, limits) : null;
            var unpacked = (Stream?)gunzip ?? bytes;
            var inspect = InspectSubmission.For(sent.Format, sent.DefaultKind);
            using var rented = MemoryPool<byte>.Shared.Rent(64 * 1024);
            var buffer = rented.Memory;
            if (!inspect.IsUtf8)
            {
                while (await unpacked.ReadAsync(buffer, ct) is > 0 and var piece) inspect.Feed(buffer.Span[..piece]);
                inspect.End();
                return (read, inspect.RowCount, inspect.Problems);
            }

            var encoding = new DetectEncoding(
                sent.Encoding, utf8Only: sent.Format is not (SubmissionFormat.Csv or SubmissionFormat.FixedWidth));
            await using var text = await encoding.OpenAsync(unpacked, ct);
            while (await text.ReadAsync(buffer, ct) is > 0 and var length)
            {
                encoding.Feed(buffer.Span[..length]);
                inspect.Feed(buffer.Span[..length]);
            }

            read = read with { Encoding = encoding.End() };
            if (inspect is InspectCsv csv)
            {
                csv.Encoding = encoding.Utf16 is null ? read.Encoding!.Value : TextEncoding.Utf8;
                read = read with { Mapping = await findMapping(csv.Header()) };
                csv.Mapping = read.Mapping?.Mapping;
            }

            inspect.End();
            return (read, inspect.RowCount, inspect.Problems);
        }

        async Task<(HowToRead, int, List<FileProblem>)> InspectWorkbookAsync()
        {
            await bytes.ReadToEndAsync(ct);
            await using var stored = again();
            using var workbook = await Workbook.OpenAsync(stored, sent.Sheet, limits, ct);
            read = read with { Mapping = await findMapping(workbook.Header) };
            var found = PlaceCells.CheckHeader(workbook.Header, sent.DefaultKind, read.Mapping?.Mapping).Take(InspectSubmission.MaxProblems)
                .ToList();
            var count = 0;
            while (count <= limits.MaxRows && workbook.Next())
            {
                ct.ThrowIfCancellationRequested();
                count++;
            }

            if (count == 0 && found.Count == 0) found.Add(new(0, null, "the sheet has a header but no rows"));
            return (read, count, found);
        }
    }
}
