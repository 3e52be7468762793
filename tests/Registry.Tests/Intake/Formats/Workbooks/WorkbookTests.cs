using System.IO.Compression;
using System.Net;
using System.Text;
using MiniExcelLibs;
using Registry.Intake.Formats.Workbooks;
using Registry.Intake.Raw;
using Registry.Intake.Receiving;
using Registry.Intake.Rows;
using Registry.Tests.Intake.Receiving;

namespace Registry.Tests.Intake.Formats.Workbooks;

/// <summary>A workbook is read as it looks; one that is not sound, or swells, is refused and costs little.</summary>
public sealed class WorkbookTests(TestDatabase database)
{
    [Fact]
    public async Task A_workbook_written_by_another_library_is_read_as_it_looks()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await bed.ClientAsync(bed.Harbour);
        using var book = new MemoryStream();
        await book.SaveAsAsync(new[]
        {
            new Dictionary<string, object?> { ["kind"] = "birth", ["record_number"] = 71, ["birth_date"] = new DateTime(2026, 11, 1),
                ["birth_time"] = "07:05", ["sex"] = "female", ["birth_weight_g"] = 3240.0, ["mother_given_name"] = "Zoë",
                ["mother_family_name"] = "Núñez, b. \"Å\"", ["email_consent"] = true, ["ear"] = null, ["outcome"] = null, ["method"] = null,
                ["performed_at"] = null },
            new Dictionary<string, object?> { ["kind"] = "screening", ["record_number"] = 71, ["birth_date"] = null, ["birth_time"] = null,
                ["sex"] = null, ["birth_weight_g"] = null, ["mother_given_name"] = null, ["mother_family_name"] = null,
                ["email_consent"] = null, ["ear"] = "right", ["outcome"] = "pass", ["method"] = "oae",
                ["performed_at"] = new DateTime(2026, 11, 2, 9, 15, 0) },
        }, cancellationToken: IntakeBed.Ct);
        var (status, body, _) = await client.SendAsync(book.ToArray(), "", ContentTypes.Xlsx);
        Assert.True(status == HttpStatusCode.OK && body["submission"]!["accepted"]!.ToString() == "2", body.ToString());
        Assert.Equal(["71 Zoë Núñez, b. \"Å\" 2026-11-01 07:05:00 3240 2026-11-02 09:15:00"], await bed.ListAsync(
            """
            select concat_ws(' ', i.value, b.mother_given_name, b.mother_family_name, b.born_on, b.born_at, b.birth_weight_grams, s.performed_at)
              from births b join infant_identifiers i using (infant_id) join screenings s using (infant_id)
            """));
    }

    [Fact]
    public async Task Cells_are_read_by_type_and_format_and_what_cannot_be_is_told_with_its_column()
    {
        var book = TestWorkbook.Of(
            """
            <row r="2"><c r="A2" t="inlineStr"><is><t>record_number</t></is></c><c r="B2" t="s"><v>0</v></c><c r="C2" t="s"><v>1</v></c><c r="D2" t="inlineStr"><is><t>birth_time</t></is></c><c r="E2" t="inlineStr"><is><t>discharged_on</t></is></c></row>
            <row r="3"><c r="A3" s="3"><v>4711</v></c><c r="B3" s="1"><v>46327</v></c><c r="C3" t="str"><f>LOWER("FEMALE")</f><v>female</v></c><c r="D3" s="2"><v>0.29513888888888890</v></c></row>
            <row r="5"><c r="A5"><v>0.1</v></c><c r="B5" t="e"><v>#N/A</v></c><c r="C5" t="s"><v>2</v></c><c r="G5"><v>1</v></c></row>
            <row r="6"><c r="A6"><v>1234567890123456</v></c><c r="B6" s="4"><v>46327.5</v></c><c r="C6" t="s"><v>2</v></c></row>
            <row r="7"></row>
            """, ["birth_date", "sex", "male"], ["yyyy\\-mm\\-dd;@", "h:mm", "0000000", "[$-409]d/m/yy\\ h:mm\\ AM/PM;@"]);
        using var workbook = Workbook.Open(new MemoryStream(book), null, new IntakeOptions());
        Assert.Equal(["record_number", "birth_date", "sex", "birth_time", "discharged_on"], workbook.Header);
        Assert.True(workbook.Next());
        Assert.Equal((3, "0004711|2026-11-01|female|07:05:00|"), (workbook.Line, string.Join('|', workbook.Cells)));
        Assert.Empty(workbook.Problems);
        Assert.True(workbook.Next());
        Assert.Equal((5, "0.1||male||"), (workbook.Line, string.Join('|', workbook.Cells)));
        Assert.Equal(["1 the cell shows an error", "-1 has a value right of the last column of the header"],
            workbook.Problems.Select(p => $"{p.Column} {p.Reason}"));
        Assert.True(workbook.Next());
        Assert.Equal("2026-11-01T12:00:00", workbook.Cells[1]);
        Assert.Contains("more than 15 digits", workbook.Problems[0].Reason, StringComparison.Ordinal);
        Assert.False(workbook.Next());

        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await bed.ClientAsync(bed.Harbour);
        var (_, body, _) = await client.SendAsync(book, "?kind=birth", ContentTypes.Xlsx);
        Assert.Equal("accepted rejected rejected", string.Join(' ', body["rows"]!.AsArray().Select(r => r!["outcome"]!.ToString())));
        Assert.Equal("""[{"field":"birth_date","reason":"the cell shows an error"},{"field":null,"reason":"has a value right of the last column of the header"}]""", body["rows"]![1]!["problems"]!.ToJsonString());
    }

    [Theory]
    // ECMA-376 part 1, 18.17.4.1: serial 1 is 1 January 1900; 60 would be the 29 February that never was; the system of 1904 starts at 0.
    [InlineData(46327, false, "2026-11-01")]
    [InlineData(1, false, "1900-01-01")]
    [InlineData(61, false, "1900-03-01")]
    [InlineData(44865, true, "2026-11-01")]
    public void Dates_are_the_days_of_the_standard(int serial, bool from1904, string day)
    {
        var book = TestWorkbook.Of($"""<row r="1"><c r="A1" t="inlineStr"><is><t>birth_date</t></is></c></row><row r="2"><c r="A2" s="1"><v>{serial}</v></c></row>""", [], ["yyyy-mm-dd"], from1904: from1904);
        using var workbook = Workbook.Open(new MemoryStream(book), null);
        Assert.True(workbook.Next());
        Assert.Equal(day, workbook.Cells[0]);
    }

    [Fact]
    public async Task The_first_sheet_that_is_shown_or_the_named_one_is_read()
    {
        const string rows = """<row r="1"><c r="A1" t="inlineStr"><is><t>record_number</t></is></c></row><row r="2"><c r="A2"><v>1</v></c></row>""";
        var book = TestWorkbook.Of(rows, [], [], sheets: [("Notes", "hidden"), ("Births May", null), ("Other", null)]);
        Assert.Equal("Births May", FirstCell(null));
        Assert.Equal("Other", FirstCell(" other "));
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await bed.ClientAsync(bed.Harbour);
        var (status, body, _) = await client.SendAsync(book, "?sheet=June", ContentTypes.Xlsx);
        Assert.Equal((HttpStatusCode.BadRequest, "there is no sheet of this name; there are: Notes, Births May, Other"),
            (status, body.Reason()));

        string FirstCell(string? sheet)
        {
            using var workbook = Workbook.Open(new MemoryStream(book), sheet);
            return workbook.Header[0].Replace("record_number ", "", StringComparison.Ordinal);
        }
    }

    [Fact]
    public async Task What_is_no_sound_workbook_or_swells_is_refused()
    {
        await using var bed = await IntakeBed.StartAsync(
            database, new Dictionary<string, string?> { ["Intake:MaxBytes"] = "50000000", ["Intake:MaxSharedTextBytes"] = "100000" });
        using var client = await bed.ClientAsync(bed.Harbour);
        async Task<string> ReasonAsync(byte[] bytes)
        {
            var (status, body, _) = await client.SendAsync(bytes, "?kind=birth", ContentTypes.Xlsx);
            Assert.Equal(HttpStatusCode.BadRequest, status);
            return body.Reason();
        }

        const string header = """<row r="1"><c r="A1" t="inlineStr"><is><t>record_number</t></is></c></row>""";
        Assert.Equal("is not a sound .xlsx workbook", await ReasonAsync("kind,record_number\n"u8.ToArray()));
        Assert.Contains("protected by a password", await ReasonAsync([0xD0, 0xCF, 0x11, 0xE0, 0xA1, 0xB1, 0x1A, 0xE1, 0]),
            StringComparison.Ordinal);
        var sound = TestWorkbook.Of(header + """<row r="2"><c r="A2"><v>1</v></c></row>""", [], []);
        Assert.Equal("is not a sound .xlsx workbook", await ReasonAsync(sound[..(sound.Length / 2)]));
        Assert.Equal("the sheet has a header but no rows", await ReasonAsync(TestWorkbook.Of(header, [], [])));
        Assert.Equal("the sheet is empty: a header row with column names is needed", await ReasonAsync(TestWorkbook.Of("", [], [])));
        Assert.Contains("is not a sound .xlsx workbook at row", await ReasonAsync(TestWorkbook.Of(header + "<row r=\"2\"><c", [], [])),
            StringComparison.Ordinal);
        Assert.Contains("is not a sound .xlsx workbook at row", await ReasonAsync(TestWorkbook.Of(header + """<row r="2"><c r="A2" t="s"><v>7</v></c></row>""", [], [])), StringComparison.Ordinal);
        Assert.Contains("is not a sound .xlsx workbook at row", await ReasonAsync(TestWorkbook.Of(header + """<row r="2147483647"><c r="A2"><v>7</v></c></row>""", [], [])), StringComparison.Ordinal);
        Assert.Contains("times its size", await ReasonAsync(TestWorkbook.Of(header + new string(' ', 30_000_000), [], [])),
            StringComparison.Ordinal);
        Assert.Contains("unpacks to more than", await ReasonAsync(TestWorkbook.Of(header + new string(' ', 60_000_000), [], [])),
            StringComparison.Ordinal);
        Assert.Contains("send CSV", await ReasonAsync(
            TestWorkbook.Of(header, [.. Enumerable.Range(0, 5_000).Select(i => $"text number {i}")], [])), StringComparison.Ordinal);
        // An entity that names entities, XML's own bomb: no document type is allowed.
        Assert.Contains("is not a sound .xlsx workbook", await ReasonAsync(TestWorkbook.Of(header, [], [], prolog: """<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;">]>""")), StringComparison.Ordinal);
        Assert.Equal(0, await bed.CountAsync("infants"));
    }

    [Fact]
    public async Task A_part_that_says_it_is_smaller_than_it_is_gives_no_more_than_it_says()
    {
        var book = TestWorkbook.Of("""<row r="1"><c r="A1" t="inlineStr"><is><t>record_number</t></is></c></row>""" + new string(' ', 3_000_000) + """<row r="2"><c r="A2"><v>1</v></c></row>""", [], []);
        // The uncompressed size stands in the local and the central header of the sheet.
        using var archive = new ZipArchive(new MemoryStream(book));
        var size = BitConverter.GetBytes((int)archive.Entries.First(e => e.Name == "sheet1.xml").Length);
        for (var at = 0; at + 4 <= book.Length; at++)
            if (book.AsSpan(at, 4).SequenceEqual(size)) BitConverter.GetBytes(500).CopyTo(book, at);
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await bed.ClientAsync(bed.Harbour);
        var (status, body, _) = await client.SendAsync(book, "?kind=birth", ContentTypes.Xlsx);
        Assert.Equal(HttpStatusCode.BadRequest, status);
        Assert.NotEmpty(body.Reason());
    }

    [Fact]
    public void A_damaged_workbook_is_refused_and_nothing_else_happens()
    {
        var sound = TestWorkbook.Of(
            """<row r="1"><c r="A1" t="s"><v>0</v></c><c r="B1" t="s"><v>1</v></c></row><row r="2"><c r="A2" s="1"><v>46327</v></c><c r="B2" t="b"><v>1</v></c></row>""",
            ["birth_date", "email_consent"], ["yyyy-mm-dd"]);
        var parts = PartsOf(sound);
        var (refused, read) = (0, 0);
        for (var n = 0; n < 400; n++)
        {
            var random = new Random(n);
            var bytes = n % 2 == 0 ? DamageBytes(sound, random) : DamagePart(parts, random);
            try
            {
                using var workbook = Workbook.Open(new MemoryStream(bytes), null, new IntakeOptions());
                while (workbook.Next()) read++;
            }
            catch (UnreadableFileException)
            {
                refused++;
            }
            catch (Exception e)
            {
                Assert.Fail($"case {n}: {e}");
            }
        }

        Assert.True(refused > 50 && read > 10, $"{refused} refused, {read} rows read");
    }

    private static Dictionary<string, string> PartsOf(byte[] book)
    {
        var parts = new Dictionary<string, string>();
        using var archive = new ZipArchive(new MemoryStream(book));
        foreach (var entry in archive.Entries)
        {
            using var reader = new StreamReader(entry.Open());
            parts[entry.FullName] = reader.ReadToEnd();
        }

        return parts;
    }

    /// <summary>The archive's own bytes.</summary>
    private static byte[] DamageBytes(byte[] sound, Random random)
    {
        var bytes = sound.ToArray();
        for (var i = random.Next(1, 6); i > 0; i--) bytes[random.Next(bytes.Length)] = (byte)random.Next(256);
        return bytes;
    }

    /// <summary>The text of one part: characters changed, lost, doubled; digits made large.</summary>
    private static byte[] DamagePart(Dictionary<string, string> parts, Random random)
    {
        var name = parts.Keys.ElementAt(random.Next(parts.Count));
        var text = new StringBuilder(parts[name]);
        for (var i = random.Next(1, 4); i > 0; i--)
        {
            var at = random.Next(text.Length);
            _ = random.Next(4) switch
            {
                0 => text.Remove(at, Math.Min(random.Next(1, 12), text.Length - at)),
                1 => text.Insert(at, "99999999999"),
                2 => text.Insert(at, text.ToString(at, Math.Min(20, text.Length - at))),
                _ => text.Insert(at, "<>&\"'/ =-"[random.Next(9)]),
            };
        }

        using var packed = new MemoryStream();
        using (var archive = new ZipArchive(packed, ZipArchiveMode.Create, leaveOpen: true))
        {
            foreach (var (part, original) in parts)
            {
                using var writer = new StreamWriter(archive.CreateEntry(part).Open());
                writer.Write(part == name ? text.ToString() : original);
            }
        }

        return packed.ToArray();
    }
}
