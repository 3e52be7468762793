using System.Text;
using CsCheck;
using Registry.Intake.Formats;
using Registry.Intake.Rows;
using Registry.Records;

namespace Registry.Tests.Intake.Formats;

public sealed class InspectCsvTests
{
    private static InspectCsv Inspect(string text, int piece = int.MaxValue, RowKind? kind = RowKind.Move)
    {
        var inspect = new InspectCsv(kind);
        ReadOnlySpan<byte> bytes = Encoding.UTF8.GetBytes(text);
        for (; !bytes.IsEmpty; bytes = bytes[Math.Min(piece, bytes.Length)..]) inspect.Feed(bytes[..Math.Min(piece, bytes.Length)]);
        inspect.End();
        return inspect;
    }

    private static string[] Problems(string text, RowKind? kind = RowKind.Move) =>
        [.. Inspect(text, kind: kind).Problems.Select(p => $"{p.Row} {p.Field}: {p.Reason}")];

    // RFC 4180, section 2, definitions 1 to 7; aaa, bbb, ccc replaced by columns of ours.
    [Theory]
    [InlineData("move,moved_on,record_number\r\naaa,bbb,ccc\r\nzzz,yyy,xxx\r\n", 2)] // 1, 3, 4
    [InlineData("move,moved_on,record_number\r\naaa,bbb,ccc\r\nzzz,yyy,xxx", 2)] // 2: the last line need not end
    [InlineData("move,moved_on,record_number\r\n\"aaa\",\"bbb\",\"ccc\"\r\nzzz,yyy,xxx", 2)] // 5
    [InlineData("move,moved_on,record_number\r\n\"aaa\",\"b\r\nbb\",\"ccc\"\r\nzzz,yyy,xxx", 2)] // 6
    [InlineData("move,moved_on,record_number\r\n\"aaa\",\"b\"\"bb\",\"ccc\"", 1)] // 7
    [InlineData("move,moved_on,record_number\naaa,b b ,\n\nzzz,,\n", 2)] // LF, blank lines: more than the standard asks
    [InlineData("\"move\",\"moved_on\"\r\na,b\r\n", 1)]
    public void Sound_files_are_counted_however_they_are_cut(string text, int rows)
    {
        for (var piece = 1; piece <= text.Length; piece++)
        {
            var inspect = Inspect(text, piece);
            Assert.Empty(inspect.Problems);
            Assert.Equal(rows, inspect.RowCount);
        }
    }

    // RFC 4180, section 2: the printed examples, with a header of ours before those without one.
    [Theory]
    [InlineData("aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n", "aaa|bbb|ccc", "zzz|yyy|xxx")] // 1
    [InlineData("aaa,bbb,ccc\r\nzzz,yyy,xxx", "aaa|bbb|ccc", "zzz|yyy|xxx")] // 2
    [InlineData("\"aaa\",\"bbb\",\"ccc\"\r\nzzz,yyy,xxx", "aaa|bbb|ccc", "zzz|yyy|xxx")] // 5
    [InlineData("\"aaa\",\"b\r\nbb\",\"ccc\"\r\nzzz,yyy,xxx", "aaa|b\r\nbb|ccc", "zzz|yyy|xxx")] // 6
    [InlineData("\"aaa\",\"b\"\"bb\",\"ccc\"", "aaa|b\"bb|ccc")] // 7
    public async Task The_printed_examples_are_read_as_printed(string text, params string[] rows)
    {
        using var reader = await ReadCsvRows.OpenAsync(
            new MemoryStream(Encoding.UTF8.GetBytes("county,insurance,record_number\r\n" + text)), new(SubmissionFormat.Csv, RowKind.Birth),
            IntakeBed.Ct);
        var batch = new RowBatch(10);
        Assert.True(await reader.FillAsync(batch, IntakeBed.Ct));
        Assert.Equal(rows, Enumerable.Range(0, batch.Count).Select(i =>
            $"{batch.Text(i, Field.County)}|{batch.Text(i, Field.Insurance)}|{batch.Text(i, Field.RecordNumber)}"));
    }

    [Fact]
    public void What_is_malformed_is_named_with_its_row()
    {
        Assert.Equal(["2 : has 1 fields where the header has 2", "3 : has 3 fields where the header has 2"],
            Problems("move,moved_on\na,b\na\na,b,c\n"));
        Assert.Equal(["1 : a quote inside a field that does not start with one (quote the field and double the quote)"],
            Problems("move,moved_on\na,b\"c\n"));
        Assert.Equal(["1 : text after a closing quote"], Problems("move,moved_on\na,\"b\"c\n"));
        Assert.Equal(["2 : a quoted field is not closed: the file ends inside it"], Problems("move,moved_on\na,b\na,\"b\nc,d\n"));
    }

    [Fact]
    public void A_header_must_name_known_columns_once_and_a_kind()
    {
        Assert.Equal(["0 movd_on: unknown column", "0 move: the column appears twice", "0 : a column has no name"],
            Problems("move,movd_on,move,\na,b,c,d\n"));
        Assert.Equal(["0 move;moved_on: unknown column: fields must be separated by commas"], Problems("move;moved_on\na;b\n"));
        Assert.Equal(["0 kind: there is no kind column and no kind was chosen for the file"], Problems("move\na\n", null));
        Assert.Equal(["0 kind: a kind was chosen for the file, but the file has a kind column"], Problems("kind,move\na,b\n"));
        Assert.Equal(["0 : the file is empty: a header row with column names is needed"], Problems(""));
        Assert.Equal(["0 : the file has a header but no rows"], Problems("move\n"));
        Assert.Equal(["0 : the first line is blank: the header row must come first"], Problems("\nmove\na\n"));
    }

    [Fact]
    public void A_row_without_end_is_refused_before_it_fills_the_memory() =>
        Assert.Equal(["1 : is longer than 65536 bytes (is a quote not closed?)",
            "1 : a quoted field is not closed: the file ends inside it"],
            Problems("move\n\"" + new string('x', 100_000)));

    [Fact]
    public void At_most_fifty_problems_are_listed() =>
        Assert.Equal(50, Problems("move,moved_on\n" + string.Concat(Enumerable.Repeat("a\n", 500))).Length);

    /// <summary>What the inspection calls sound, the reader reads as the same rows; CsvHelper writes the files.</summary>
    [Fact]
    public void Files_written_by_another_library_are_read_back_as_written()
    {
        var cell = Gen.String[Gen.OneOf('a', 'Z', '0', ' ', ',', '"', '\n', '\r', ';', 'é', '李'), 0, 12].Select(s => s.Trim());
        cell.Array[2].Array[1, 20].Sample(rows =>
        {
            using var text = new StringWriter();
            using (var csv = CsvHelper.CsvWriter.Create(text, new CsvHelper.CsvWriterOptions(), true))
            {
                foreach (var row in rows.Prepend(["refused_by", "record_number"]))
                {
                    foreach (var value in row) csv.WriteField(value);
                    csv.EndRecord();
                }
            }

            var file = text.ToString();
            var inspect = Inspect(file, 7, RowKind.Refusal);
            using var reader = ReadCsvRows.OpenAsync(new MemoryStream(Encoding.UTF8.GetBytes(file)),
                new(SubmissionFormat.Csv, RowKind.Refusal), default).Result;
            var batch = new RowBatch(100);
            reader.FillAsync(batch, default).AsTask().Wait();
            var read = Enumerable.Range(0, batch.Count)
                .Select(i => $"{batch.Text(i, Field.RefusedBy)}|{batch.Text(i, Field.RecordNumber)}").ToArray();
            return inspect.Problems.Count == 0 && inspect.RowCount == rows.Length && read.SequenceEqual(rows.Select(r => $"{r[0]}|{r[1]}"));
        }, iter: 2_000);
    }
}
