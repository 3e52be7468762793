using System.Runtime.CompilerServices;
using System.Text.Json;
using Registry.Intake.Applying;
using Registry.Intake.Rows;
using Registry.Platform.Csv;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Intake.Submissions;

/// <summary>
/// The rejected rows of a submission that were not discarded, as a CSV file of our own format. The last column, <c>problems</c>, says what
/// is wrong; when the corrected file is sent back it only tells which row comes back (<see cref="ReturnedRows"/>). A text that a
/// spreadsheet would take for a formula has an apostrophe in front, which is taken away again from a file with that column.
/// </summary>
public static class WriteRejectedRows
{
    public static async Task RunAsync(ReadSubmissions read, SubmissionId id, TextWriter writer, CancellationToken ct)
    {
        // A kind that cannot be read leaves the other columns as they are, so every column is offered that any row states, or lacks.
        var used = new SortedSet<Field> { Field.Kind };
        await foreach (var (row, content) in RejectedAsync(read, id, ct))
        {
            used.UnionWith(content.Keys);
            foreach (var problem in row.Problems)
                if (Codes.TryParse<Field>(problem.Field, out var field) && field != Field.Problems) used.Add(field);
        }

        await using var csv = new WriteCsv(writer);
        await csv.RowAsync([.. used.Append(Field.Problems).Select(f => Codes.Of(f))], ct);
        await foreach (var (row, content) in RejectedAsync(read, id, ct))
        {
            var problems = $"{string.Join("; ", row.Problems.Select(p => p.Field is null ? p.Reason : $"{p.Field} {p.Reason}"))} "
                + $"{new RowMark(id, row.Row)}";
            await csv.RowAsync([.. used.Select(f => content.GetValueOrDefault(f, "")), problems], ct);
        }
    }

    private static async IAsyncEnumerable<(RowReport Row, Dictionary<Field, string> Content)> RejectedAsync(
        ReadSubmissions read, SubmissionId id, [EnumeratorCancellation] CancellationToken ct)
    {
        await foreach (var row in read.AllRowsAsync(id, new(RowOutcome.Rejected, Waiting: true), ct))
        {
            var content = JsonSerializer.Deserialize<Dictionary<string, string>>(row.Content ?? "{}")!;
            yield return (row, content.ToDictionary(c => Codes.Parse<Field>(c.Key), c => c.Value));
        }
    }
}
