using System.IO.Compression;
using System.Text;
using Registry.Intake.Formats;
using Registry.Intake.Formats.Workbooks;
using Registry.Intake.Raw;
using Registry.Intake.Rows;
using Registry.Records;
using Registry.Tests.Intake.Receiving;

namespace Registry.Tests.Intake.Formats.Workbooks;

/// <summary>What a workbook costs to read is bounded whatever is in it, and what its cells say is read as it is meant.</summary>
public sealed class WorkbookLimitsTests(TestDatabase database)
{
    private const string Header = """<row r="1"><c r="A1" t="inlineStr"><is><t>record_number</t></is></c><c r="B1" t="inlineStr"><is><t>birth_date</t></is></c></row>""";
    private static readonly string Long = new('x', 70_000);

    public static readonly TheoryData<string, string> TooLong = new()
    {
        { $"""<row r="2"><c r="A2" t="inlineStr"><is><t>{Long}</t></is></c></row>""", "row 2 of the sheet has a value longer than 65536 characters" },
        { $"""<row r="2"><c r="A2" t="str"><v>{Long}</v></c></row>""", "row 2 of the sheet has a value longer than 65536 characters" },
        { $"""<row r="2"><c r="A2" t="inlineStr"><is>{string.Concat(Enumerable.Repeat("<r><t>0123456789</t></r>", 7_000))}</is></c></row>""", "row 2 of the sheet has a value longer than 65536 characters" },
        // One shared text, pointed at again and again.
        { $"""<row r="2">{string.Concat(Enumerable.Range(0, 100).Select(i => $"""<c r="{(char)('A' + (i / 26))}{(char)('A' + (i % 26))}2" t="s"><v>0</v></c>"""))}</row>""", "row 2 of the sheet is longer than 65536 characters" },
        { $"""<row r="2"><c r="A2"><v>1</v></c>{string.Concat(Enumerable.Repeat("<a>", 100))}{string.Concat(Enumerable.Repeat("</a>", 100))}</row>""", "is not a sound .xlsx workbook at row 2 of the sheet or after it" },
        { $"""<row r="2"><c r="A2"><v>1</v></c>{string.Concat(Enumerable.Range(0, 5_000).Select(i => $"<n{i}/>"))}</row>""", "is not a sound .xlsx workbook at row 2 of the sheet or after it" },
        { $"""<row r="2"><c r="A2" x="{string.Concat(Enumerable.Repeat(Long, 20))}"><v>1</v></c></row>""", "an element of the workbook is longer than a mebibyte: send CSV" },
        { $"""<row r="2"><c r="A2" t="str"><v><![CDATA[{string.Concat(Enumerable.Repeat("<a>--> ", 200_000))}]]></v></c></row>""", "an element of the workbook is longer than a mebibyte: send CSV" },
    };

    [Theory]
    [MemberData(nameof(TooLong))]
    public void A_row_or_value_that_is_too_long_is_refused_in_both_passes(string row, string reason)
    {
        var book = TestWorkbook.Of(Header + row, [new string('y', 1_000)], []);
        foreach (var limits in new[] { new IntakeOptions { MaxRatio = 1_032 }, null })
        {
            using var workbook = Workbook.Open(new MemoryStream(book), null, limits);
            Assert.Equal(reason, Assert.Throws<UnreadableFileException>(() => workbook.Next()).Message);
        }
    }

    [Fact]
    public void Text_in_sections_and_between_comments_is_read()
    {
        var book = TestWorkbook.Of(Header + """<row r="2"><!-- a --><c r="A2" t="str"><v><![CDATA[a<b>c]]>d</v></c><c r="B2" t="inlineStr"><is><r><rPr><b/></rPr><t>x</t></r><r><t xml:space="preserve"> y</t></r><rPh sb="0" eb="1"><t>no</t></rPh></is></c></row>""", [], []);
        Assert.Equal("a<b>cd|x y", string.Join('|', First(book).Cells));
    }

    [Fact]
    public void A_shared_text_and_all_of_them_have_a_limit_wherever_their_part_lies()
    {
        Assert.Equal("a text of the workbook is longer than 65536 characters", Refused(TestWorkbook.Of(Header, [Long], [])));
        var book = TestWorkbook.Of(Header, [.. Enumerable.Range(0, 5_000).Select(i => $"text number {i}")], []);
        Assert.Contains("send CSV", Refused(book, new IntakeOptions { MaxSharedTextBytes = 100_000 }), StringComparison.Ordinal);
        // The same part in the folder of the sheets.
        var moved = Changed(book, (name, text) =>
            (name.Replace("xl/shared", "xl/worksheets/shared", StringComparison.Ordinal),
            text.Replace("/xl/shared", "/xl/worksheets/shared", StringComparison.Ordinal)
            .Replace("\"sharedStrings.xml", "\"worksheets/sharedStrings.xml", StringComparison.Ordinal)));
        Assert.Contains("send CSV", Refused(moved, new IntakeOptions { MaxSharedTextBytes = 100_000 }), StringComparison.Ordinal);
    }

    [Fact]
    public void Parts_beside_the_sheets_have_a_limit_of_their_own()
    {
        var sound = TestWorkbook.Of(Header, [], []);
        var noise = RandomText(5_000_000);
        Assert.Contains("beside its sheets and texts is longer", Refused(
            Changed(sound, (name, text) =>
            (name, name == "xl/styles.xml" ? text.Replace("<numFmts>", $"<numFmts>{Elements(noise)}", StringComparison.Ordinal)
            : text))), StringComparison.Ordinal);
        Assert.Contains("beside its sheets and texts is longer", Refused(
            Changed(sound, (name, text) =>
            (name, name == "xl/workbook.xml" ? text.Replace("<sheets>", $"{Elements(noise)}<sheets>", StringComparison.Ordinal)
            : text))), StringComparison.Ordinal);
        Assert.Contains("lists of the workbook's parts",
            Refused(Changed(sound, (name, text) =>
            (name, name.EndsWith(".rels", StringComparison.Ordinal) ? text + $"<!--{noise}-->" : text))), StringComparison.Ordinal);

        static string Elements(string noise) => string.Concat(noise.Chunk(1_000).Select(c => $"<a b=\"{new string(c)}\"/>"));
    }

    [Theory]
    [InlineData("xl/styles.xml")]
    [InlineData("xl/sharedStrings.xml")]
    [InlineData("xl/workbook.xml")]
    [InlineData("xl/worksheets/sheet1.xml")]
    [InlineData("[Content_Types].xml")]
    [InlineData("_rels/.rels")]
    [InlineData("xl/_rels/workbook.xml.rels")]
    public void No_part_may_define_entities(string part)
    {
        var book = Changed(TestWorkbook.Of(Header + """<row r="2"><c r="A2"><v>1</v></c></row>""", ["a"], ["0"]),
            (name, text) => (name, name == part ? text.Replace("?>", "?><!DOCTYPE x [<!ENTITY a \"aaaaaaaaaa\"><!ENTITY b \"&a;&a;&a;\">]>",
                StringComparison.Ordinal) : text));
        Assert.Equal("is not a sound .xlsx workbook", Refused(book));
    }

    [Fact]
    public void The_number_of_parts_is_looked_at_before_they_are_listed()
    {
        using var bytes = new MemoryStream();
        using (var zip = new ZipArchive(bytes, ZipArchiveMode.Create, leaveOpen: true))
            for (var i = 0; i < 60_000; i++) zip.CreateEntry($"p{i}", CompressionLevel.NoCompression);
        var book = bytes.ToArray();
        var before = GC.GetAllocatedBytesForCurrentThread();
        Assert.Equal("the workbook has more than 2000 parts", Refused(book));
        // And when it says it has fewer.
        BitConverter.GetBytes((ushort)5).CopyTo(book, book.Length - 12);
        Assert.Equal("the workbook has more than 2000 parts", Refused(book));
        Assert.InRange(GC.GetAllocatedBytesForCurrentThread() - before, 0, 2_000_000);
        Assert.Equal("is not a sound .xlsx workbook", Refused("PK"u8.ToArray()));
    }

    [Fact]
    public void Cells_of_every_type_say_what_a_reader_sees()
    {
        var book = TestWorkbook.Of(
            """<row r="1">"""
            + string.Concat(Enumerable.Range(0, 12).Select(i => $"""<c r="{(char)('A' + i)}1" t="inlineStr"><is><t>c{i}</t></is></c>""")) + "</row>"
            + """
            <row r="2"><c r="A2" t="b"><v></v></c><c r="B2" t="b"><v>true</v></c><c r="C2" t="b"><v>0</v></c><c r="D2" s="1"><v>46327</v></c><c r="E2" s="2"><v>1.5</v></c>
            <c r="F2" t="d" s="3"><v>2026-11-01T00:00:00</v></c><c r="G2" t="d"><v>2026-11-01T08:15:00.000</v></c><c r="H2" t="d"><v>T08:15:30</v></c><c r="I2" t="d"><v>2026-11-01T08:15:00Z</v></c>
            <c r="J2" t="s"><v>0</v></c><c r="K2" t="str"><v>_x005F_x000D_</v></c><c r="L2" s="4"><v>46327</v></c></row>
            """, ["a_x000D_b"], ["[Magenta]General", "[h]:mm", "yyyy\\-mm\\-dd", "yyyy\\-mm\\-dd\\ hh:mm"]);
        Assert.Equal("|true|false|46327|1900-01-01T12:00:00|2026-11-01|2026-11-01T08:15:00|08:15:30|2026-11-01T08:15:00Z|a\rb|_x000D_|2026-11-01T00:00:00", string.Join('|', First(book).Cells));
    }

    [Fact]
    public void A_sheet_that_is_a_chart_is_passed_over()
    {
        var book = TestWorkbook.Of("""<row r="1"><c r="A1" t="inlineStr"><is><t>record_number</t></is></c></row><row r="2"><c r="A2"><v>1</v></c></row>""", [], [], sheets: [("Chart", null), ("Births", null)]);
        book = Changed(book, (name, text) => name switch
        {
            "xl/worksheets/sheet1.xml" => (name, """<?xml version="1.0"?><chartsheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"/>"""),
            "[Content_Types].xml" => (name, Once(text, "spreadsheetml.worksheet+xml", "spreadsheetml.chartsheet+xml")),
            "xl/_rels/workbook.xml.rels" => (name, Once(text, "relationships/worksheet\"", "relationships/chartsheet\"")),
            _ => (name, text),
        });
        using var workbook = Workbook.Open(new MemoryStream(book), null, new IntakeOptions());
        Assert.Equal("Births", workbook.Header[0]);

        static string Once(string text, string old, string with) => text.IndexOf(old, StringComparison.Ordinal) is var at
            ? text[..at] + with + text[(at + old.Length)..] : text;
    }

    [Fact]
    public async Task Midnight_with_a_time_is_a_day_where_a_day_is_asked_for()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var book = TestWorkbook.Of(
            """
            <row r="1"><c r="A1" t="inlineStr"><is><t>record_number</t></is></c><c r="B1" t="inlineStr"><is><t>birth_date</t></is></c><c r="C1" t="inlineStr"><is><t>sex</t></is></c><c r="D1" t="inlineStr"><is><t>kind</t></is></c></row>
            <row r="2"><c r="A2"><v>1</v></c><c r="B2" s="1"><v>46327</v></c><c r="C2" t="inlineStr"><is><t>female</t></is></c><c r="D2" t="inlineStr"><is><t>birth</t></is></c></row>
            <row r="3"><c r="A3"><v>2</v></c><c r="B3" s="1"><v>46327.5</v></c><c r="C3" t="inlineStr"><is><t>female</t></is></c><c r="D3" t="inlineStr"><is><t>birth</t></is></c></row>
            """, [], ["dd/mm/yyyy hh:mm"]);
        Assert.Equal(["accepted", "rejected birth_date: is not a date (yyyy-MM-dd)"],
            await bed.OutcomesAsync(await bed.SendFileAsync(book, SubmissionFormat.Xlsx)));
    }

    [Fact]
    public void A_batch_is_full_by_its_text_too_and_a_value_has_a_limit()
    {
        var value = new string('x', 60_000);
        var batch = new RowBatch(10_000);
        while (!batch.IsFull) Add(batch);
        Assert.InRange(batch.Count, RowBatch.FullAt / 60_000, (RowBatch.FullAt / 60_000) + 1);
        batch.Clear();
        Assert.False(batch.IsFull);
        batch.Add(1, 1);
        batch.Set(Field.County, Long);
        Assert.Equal("is longer than 65536 characters", batch.Problems(0)[0].Reason);
        // What must be whole grows beyond that, but not without end.
        var whole = new RowBatch(10_000, whole: true);
        while (!whole.IsFull) Add(whole);
        Assert.Equal((10_000, "is more text than is taken in at once"), (whole.Count, whole.Problems(9_999)[0].Reason));
        Assert.Equal(value, whole.Text(100, Field.County));

        void Add(RowBatch to)
        {
            to.Add(to.Count + 1, 1);
            to.Set(Field.County, value);
        }
    }

    [Fact]
    public async Task A_row_that_ends_in_the_next_piece_is_read_to_its_end_whatever_fills_the_batch()
    {
        var text = string.Concat(
            Enumerable.Range(1, 400).Select(
            i => $"{{\"kind\":\"birth\",\"record_number\":\"{i}\",\"county\":\"{new string('x', 40 * (i % 70))}\",\"sex\":\"female\"}}\n"));
        for (var capacity = 1; capacity < 12; capacity++)
        {
            using var reader = new ReadJsonRows(new MemoryStream(Encoding.UTF8.GetBytes(text)), SubmissionFormat.Ndjson, null);
            var batch = new RowBatch(capacity);
            var read = 0;
            while (await reader.FillAsync(batch, IntakeBed.Ct))
            {
                for (var i = 0; i < batch.Count; i++, read++)
                    Assert.Equal($"{read + 1} {40 * ((read + 1) % 70)} female",
                        $"{batch.Text(i, Field.RecordNumber)} {batch.Text(i, Field.County).Length} {batch.Text(i, Field.Sex)}");
            }

            Assert.Equal(400, read);
        }
    }

    [Fact]
    public async Task Long_rows_of_a_long_file_are_all_taken_and_a_dry_run_says_how_many_it_tried()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await bed.ClientAsync(bed.Harbour);
        // 60,000 characters in a column that is too long: each row is kept with its content, and rejected.
        var file = Encoding.UTF8.GetBytes("kind,record_number,birth_date,sex,county\n" + string.Concat(
            Enumerable.Range(1, 200).Select(i => $"birth,{i},2026-11-01,female,{new string('x', 60_000)}\n")));
        var (_, trial, _) = await client.SendAsync(file, "?dry_run=true");
        Assert.Equal("200 140", $"{trial["rows"]} {trial["rowsTried"]}");
        var (_, sent, _) = await client.SendAsync(file);
        Assert.Equal("200 200", $"{sent["submission"]!["rows"]} {sent["submission"]!["rejected"]}");
    }

    private static Workbook First(byte[] book)
    {
        var workbook = Workbook.Open(new MemoryStream(book), null, new IntakeOptions());
        Assert.True(workbook.Next());
        return workbook;
    }

    private static string Refused(byte[] book, IntakeOptions? limits = null) =>
        Assert.Throws<UnreadableFileException>(
            () => Workbook.Open(new MemoryStream(book), null, limits ?? new IntakeOptions { MaxRatio = 1_032 })).Message;

    /// <summary>The workbook with other parts.</summary>
    private static byte[] Changed(byte[] book, Func<string, string, (string Name, string Text)> change)
    {
        using var bytes = new MemoryStream();
        using (var from = new ZipArchive(new MemoryStream(book)))
        using (var to = new ZipArchive(bytes, ZipArchiveMode.Create, leaveOpen: true))
        {
            foreach (var entry in from.Entries)
            {
                using var reader = new StreamReader(entry.Open());
                var (name, text) = change(entry.FullName, reader.ReadToEnd());
                using var writer = new StreamWriter(to.CreateEntry(name).Open());
                writer.Write(text);
            }
        }

        return bytes.ToArray();
    }

    private static string RandomText(int length)
    {
        var random = new Random(5);
        return string.Create(length, random, static (text, r) =>
        {
            for (var i = 0; i < text.Length; i++) text[i] = (char)('a' + r.Next(26));
        });
    }
}
