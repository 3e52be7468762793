using System.Text;
using nietras.SeparatedValues;
using Registry.Intake.Formats;
using Registry.Intake.Formats.Workbooks;
using Registry.Intake.Raw;
using Registry.Intake.Rows;
using Registry.Records;

namespace Registry.Intake.Mappings;

/// <summary>The first rows of a file in a site's own columns.</summary>
/// <param name="Header">The names of its columns.</param>
/// <param name="Rows">The cells of each row.</param>
/// <param name="Unread">Of a workbook the cells of each row that could not be read; null for CSV.</param>
public sealed record SampleRows(IReadOnlyList<string> Header, IReadOnlyList<string[]> Rows, IReadOnlyList<UnreadCell[]>? Unread = null);

/// <summary>A cell that could not be read; column -1 is the row as a whole.</summary>
public sealed record UnreadCell(int Column, string Reason);

/// <summary>Reads the header and the first rows of a CSV file (in any encoding) or a workbook: what a mapping is made from. Nothing is
/// stored.</summary>
public static class ReadSample
{
    public const int Rows = 10;

    /// <summary>Longest file a sample is taken from, in bytes.</summary>
    public const int MaxBytes = 8 * 1024 * 1024;

    /// <summary>The format of a file a sample can be taken from, by its name and length; null when it is none.</summary>
    public static SubmissionFormat? FormatOf(string fileName, long length) => length is > 0 and <= MaxBytes
        && FileNames.FormatOf(fileName) is ((SubmissionFormat.Csv or SubmissionFormat.Xlsx) and var format, false) ? format : null;

    /// <exception cref="UnreadableFileException">The file is neither, or not sound.</exception>
    public static async Task<SampleRows> RunAsync(byte[] file, SubmissionFormat format, IntakeOptions limits, CancellationToken ct)
    {
        if (format == SubmissionFormat.Xlsx) return await OfWorkbookAsync(file, limits, ct);
        try
        {
            return await OfTextAsync(file, ct);
        }
        catch (DecoderFallbackException)
        {
            throw new UnreadableFileException(0, null, "the text is not sound UTF-16: half a character is missing");
        }
    }

    private static async Task<SampleRows> OfWorkbookAsync(byte[] file, IntakeOptions limits, CancellationToken ct)
    {
        using var workbook = await Workbook.OpenAsync(new MemoryStream(file), null, limits, ct);
        var (rows, unread) = (new List<string[]>(), new List<UnreadCell[]>());
        while (rows.Count < Rows && workbook.Next())
        {
            rows.Add([.. workbook.Cells]);
            unread.Add([.. workbook.Problems.Select(p => new UnreadCell(p.Column, p.Reason))]);
        }

        return new(workbook.Header, rows, unread);
    }

    private static async Task<SampleRows> OfTextAsync(byte[] file, CancellationToken ct)
    {
        var detect = new DetectEncoding(null, utf8Only: false);
        using var text = new MemoryStream();
        await using (var bytes = await detect.OpenAsync(new MemoryStream(file), ct)) await bytes.CopyToAsync(text, ct);
        detect.Feed(text.GetBuffer().AsSpan(0, (int)text.Length));
        var encoding = detect.End();
        if (detect.Utf16 is not null) encoding = TextEncoding.Utf8;
        var header = CheckStructure(text.GetBuffer().AsSpan(0, (int)text.Length), encoding);

        text.Position = 0;
        using var reader = await Sep.New(',').Reader(o => o with { Unescape = true, DisableColCountCheck = true })
            .FromAsync(new StreamReader(text, DetectEncoding.Of(encoding)), ct);
        var rows = new List<string[]>();
        while (rows.Count < Rows && reader.MoveNext())
        {
            if (reader.Current.Span.IsEmpty) continue;
            rows.Add([.. Enumerable.Range(0, reader.Current.ColCount).Select(i => reader.Current[i].ToString())]);
        }

        return new(header, rows);
    }

    /// <summary>The columns are not known yet: only that there are rows of as many cells as the header has.</summary>
    /// <returns>The header.</returns>
    private static IReadOnlyList<string> CheckStructure(ReadOnlySpan<byte> text, TextEncoding encoding)
    {
        var inspect = new InspectCsv(RowKind.Birth) { Encoding = encoding };
        inspect.Feed(text);
        var header = inspect.Header();
        inspect.Mapping = new ColumnMapping
        {
            Columns = [.. header.DistinctBy(ColumnMapping.KeyOf).Select(h => new MappedColumn(h, null))],
        };
        inspect.End();
        return inspect.Problems is [var problem, ..]
            ? throw new UnreadableFileException(problem.Row, problem.Field, problem.Reason) : header;
    }
}
