using System.Buffers;
using System.Text;
using Registry.Intake.Formats.Workbooks;
using Registry.Intake.Raw;
using Registry.Intake.Rows;
using Registry.Records;

namespace Registry.Intake.Formats;

/// <summary>What was found out about a file before any of its rows is applied.</summary>
public sealed record Inspected(FileReading Read, int RowCount, IReadOnlyList<FileProblem> Problems);

/// <summary>Reads a whole file once: unpacks it, finds out its encoding and columns, counts its rows, and says what is wrong with
/// it.</summary>
public sealed class InspectFile
{
    private const int PieceBytes = 64 * 1024;

    private readonly SentFile _sent;
    private readonly Func<IReadOnlyList<string>, Task<SavedMapping?>> _findMapping;
    private readonly IntakeOptions _limits;
    private FileReading _read;
    private int _rows;

    private InspectFile(SentFile sent, Func<IReadOnlyList<string>, Task<SavedMapping?>> findMapping, IntakeOptions limits)
    {
        (_sent, _findMapping, _limits) = (sent, findMapping, limits);
        _read = new FileReading(sent.Format, sent.DefaultKind) { Gzip = sent.Gzip, Sheet = sent.Sheet };
    }

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
        var inspect = new InspectFile(sent, findMapping, limits);
        var problems = await inspect.ProblemsAsync(bytes, again, ct);
        await bytes.ReadToEndAsync(ct);
        if (problems.Count == 0 && inspect._rows > limits.MaxRows)
            problems = [new(0, null, $"the file has {inspect._rows} rows; send at most {limits.MaxRows} at once")];
        return new(inspect._read, problems.Count > 0 ? 0 : inspect._rows, problems);
    }

    private async Task<IReadOnlyList<FileProblem>> ProblemsAsync(ReceivedBytes bytes, Func<Stream> again, CancellationToken ct)
    {
        try
        {
            if (_sent.Format != SubmissionFormat.Xlsx) return await InspectTextAsync(bytes, ct);
            await bytes.ReadToEndAsync(ct);
            await using var stored = again();
            return await InspectWorkbookAsync(stored, ct);
        }
        catch (UnreadableFileException e)
        {
            return [e.Problem];
        }
        catch (DecoderFallbackException)
        {
            return [new(0, null, "the text is not sound UTF-16: half a character is missing")];
        }
    }

    private async Task<IReadOnlyList<FileProblem>> InspectTextAsync(ReceivedBytes bytes, CancellationToken ct)
    {
        await using var gunzip = _sent.Gzip ? new GunzipWithin(bytes, _limits) : null;
        var unpacked = (Stream?)gunzip ?? bytes;
        var inspect = OpenRows.ToInspect(_sent.Format, _sent.DefaultKind);
        if (inspect.IsUtf8) await FeedTextAsync(inspect, unpacked, ct);
        else await FeedAsync(unpacked, inspect.Feed, ct);
        inspect.End();
        _rows = inspect.RowCount;
        return inspect.Problems;
    }

    /// <summary>Text in UTF-8, or in another encoding where the format allows it. The columns of a table are looked up when all of it was
    /// seen: only then is its encoding known, and with it the names of its header.</summary>
    private async Task FeedTextAsync(InspectSubmission inspect, Stream unpacked, CancellationToken ct)
    {
        var encoding = new DetectEncoding(
            _sent.Encoding, utf8Only: _sent.Format is not (SubmissionFormat.Csv or SubmissionFormat.FixedWidth));
        await using var text = await encoding.OpenAsync(unpacked, ct);
        await FeedAsync(text, piece =>
        {
            encoding.Feed(piece);
            inspect.Feed(piece);
        }, ct);
        _read = _read with { Encoding = encoding.End() };
        if (inspect is not InspectCsv csv) return;
        csv.Encoding = encoding.Utf16 is null ? _read.Encoding!.Value : TextEncoding.Utf8;
        _read = _read with { Mapping = await _findMapping(csv.Header()) };
        csv.Mapping = _read.Mapping?.Mapping;
    }

    private async Task<IReadOnlyList<FileProblem>> InspectWorkbookAsync(Stream stored, CancellationToken ct)
    {
        using var workbook = await Workbook.OpenAsync(stored, _sent.Sheet, _limits, ct);
        _read = _read with { Mapping = await _findMapping(workbook.Header) };
        var problems = PlaceCells.CheckHeader(workbook.Header, _sent.DefaultKind, _read.Mapping?.Mapping)
            .Take(InspectSubmission.MaxProblems).ToList();
        while (_rows <= _limits.MaxRows && workbook.Next())
        {
            ct.ThrowIfCancellationRequested();
            _rows++;
        }

        if (_rows == 0 && problems.Count == 0) problems.Add(new(0, null, "the sheet has a header but no rows"));
        return problems;
    }

    private static async Task FeedAsync(Stream bytes, Action<ReadOnlySpan<byte>> feed, CancellationToken ct)
    {
        using var rented = MemoryPool<byte>.Shared.Rent(PieceBytes);
        while (await bytes.ReadAsync(rented.Memory, ct) is > 0 and var length) feed(rented.Memory.Span[..length]);
    }
}
