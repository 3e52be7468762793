using Npgsql;
using Registry.Intake.Formats;
using Registry.Intake.Rows;
using Registry.Platform;
using Registry.Records;

namespace Registry.Intake.Mappings;

/// <summary>A row as a mapping reads it: our fields with their texts, and what is wrong with it.</summary>
public sealed record PreviewedRow(IReadOnlyList<(Field Field, string Text)> Cells, IReadOnlyList<Problem> Problems);

/// <summary>What a mapping makes of a sample.</summary>
/// <param name="Problems">What is wrong with the file as a whole; its rows are not looked at then.</param>
/// <param name="Rows">Its rows.</param>
public sealed record Preview(IReadOnlyList<FileProblem> Problems, IReadOnlyList<PreviewedRow> Rows);

/// <summary>Shows how a mapping would read the rows of a sample, before it reads any in earnest: checked as if the site sent them
/// today.</summary>
public sealed class PreviewMapping(NpgsqlDataSource source, ProgramClock clock)
{
    /// <param name="site">Whose files the mapping reads.</param>
    /// <param name="sample">The rows.</param>
    /// <param name="mapping">The mapping.</param>
    /// <param name="kind">What the rows report, where the mapping does not say it.</param>
    /// <param name="ct">Cancels.</param>
    public async Task<Preview> RunAsync(SiteId site, SampleRows sample, ColumnMapping mapping, RowKind? kind, CancellationToken ct)
    {
        if (mapping.StatesKind) kind = null;
        if (PlaceCells.CheckHeader(sample.Header, kind, mapping).ToList() is { Count: > 0 } problems) return new(problems, []);
        await using var connection = await source.OpenConnectionAsync(ct);
        var check = (await KnownSites.ReadAsync(connection, ct)).Check(clock, clock.Now, site);
        return new([], Read(sample, mapping, kind, check));
    }

    private static List<PreviewedRow> Read(SampleRows sample, ColumnMapping mapping, RowKind? kind, CheckRow check)
    {
        var format = sample.Unread is null ? SubmissionFormat.Csv : SubmissionFormat.Xlsx;
        var place = new PlaceCells(sample.Header, new FileReading(format, kind) { Mapping = new(Guid.Empty, "", 0, mapping) });
        var batch = new RowBatch(Math.Max(1, sample.Rows.Count));
        var rows = new List<PreviewedRow>();
        foreach (var (i, cells) in sample.Rows.Index())
        {
            batch.Add(i + 1, i + 2);
            place.Place(batch, column => column < cells.Length ? cells[column] : "", UnreadOf(sample, i));
            check.Check(batch, i, out _, out var problems);
            rows.Add(new([.. Stated(batch, i)], problems));
        }

        return rows;
    }

    private static List<(int Column, string Reason)>? UnreadOf(SampleRows sample, int row) =>
        sample.Unread is { } unread && row < unread.Count ? [.. unread[row].Select(u => (u.Column, u.Reason))] : null;

    private static IEnumerable<(Field Field, string Text)> Stated(RowBatch batch, int row) =>
        Enum.GetValues<Field>().Select(f => (f, batch.Text(row, f).ToString())).Where(c => c.Item2.Length > 0);
}
