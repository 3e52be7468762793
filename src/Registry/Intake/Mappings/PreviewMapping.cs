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

/// <summary>A row as a mapping reads it: our fields with their texts, and what is wrong with it.</summary>
public sealed record PreviewedRow(IReadOnlyList<(Field Field, string Text)> Cells, IReadOnlyList<Problem> Problems);

/// <summary>Shows how a mapping would read the first rows of a file, before it reads any in earnest.</summary>
public static class PreviewMapping
{
    public const int Rows = 10;

    /// <summary>Longest file a sample is taken from, in bytes.</summary>
    public const int MaxBytes = 8 * 1024 * 1024;

    /// <summary>The header and first rows of a CSV file (in any encoding) or a workbook.</summary>
    /// <exception cref="UnreadableFileException">The file is neither, or not sound.</exception>
    public static async Task<SampleRows> SampleAsync(byte[] file, SubmissionFormat format, IntakeOptions limits, CancellationToken ct)
    {
        if (format == SubmissionFormat.Xlsx)
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

        try
        {
            return await SampleOfTextAsync(file, ct);
        }
        catch (DecoderFallbackException)
        {
            throw new UnreadableFileException(0, null, "the text is not sound UTF-16: half a character is missing");
        }
    }

    private static async Task<SampleRows> SampleOfTextAsync(byte[] file, CancellationToken ct)
    {
        var detect = new DetectEncoding(null, utf8Only: false);
        var inspect = new InspectCsv(RowKind.Birth);
        using var text = new MemoryStream();
        await using (var bytes = await detect.OpenAsync(new MemoryStream(file), ct)) await bytes.CopyToAsync(text, ct);
        detect.Feed(text.GetBuffer().AsSpan(0, (int)text.Length));
        var encoding = detect.End();
        inspect.Encoding = detect.Utf16 is null ? encoding : TextEncoding.Utf8;
        inspect.Feed(text.GetBuffer().AsSpan(0, (int)text.Length));
        // Its columns are not known yet: only its structure is looked at.
        inspect.Mapping = new ColumnMapping
        {
            Columns = [.. inspect.Header().DistinctBy(ColumnMapping.KeyOf)
            .Select(h => new MappedColumn(h, null))]
        };
        inspect.End();
        if (inspect.Problems is [var problem, ..]) throw new UnreadableFileException(problem.Row, problem.Field, problem.Reason);

        text.Position = 0;
        using var reader = await Sep.New(',').Reader(o => o with { Unescape = true, DisableColCountCheck = true })
            .FromAsync(new StreamReader(text, DetectEncoding.Of(inspect.Encoding)), ct);
        var sample = new List<string[]>();
        while (sample.Count < Rows && reader.MoveNext())
        {
            if (reader.Current.Span.IsEmpty) continue;
            sample.Add([.. Enumerable.Range(0, reader.Current.ColCount).Select(i => reader.Current[i].ToString())]);
        }

        return new(inspect.Header(), sample);
    }

    /// <summary>The mapping's rows of the sample, checked as on the given day; problems of the file as a whole come first.</summary>
    internal static (IReadOnlyList<FileProblem> Problems, IReadOnlyList<PreviewedRow> Rows) Run(
        SampleRows sample, ColumnMapping mapping, RowKind? kind, CheckRow check)
    {
        var problems = PlaceCells.CheckHeader(sample.Header, kind, mapping).ToList();
        if (problems.Count > 0) return (problems, []);
        var place = new PlaceCells(
            sample.Header, new HowToRead(sample.Unread is null ? SubmissionFormat.Csv : SubmissionFormat.Xlsx,
            kind)
            { Mapping = new(Guid.Empty, "", 0, mapping) });
        var batch = new RowBatch(Math.Max(1, sample.Rows.Count));
        var rows = new List<PreviewedRow>();
        foreach (var (i, cells) in sample.Rows.Index())
        {
            batch.Add(rows.Count + 1, rows.Count + 2);
            place.Place(batch, column => column < cells.Length ? cells[column] : "", sample.Unread is { } unread
                && i < unread.Count ? [.. unread[i].Select(u => (u.Column, u.Reason))] : null);
            check.Check(batch, rows.Count, out _, out var wrong);
            rows.Add(new([.. Enum.GetValues<Field>().Select(f => (f, batch.Text(rows.Count, f).ToString())).Where(c => c.Item2.Length > 0)],
                wrong));
        }

        return ([], rows);
    }
}
