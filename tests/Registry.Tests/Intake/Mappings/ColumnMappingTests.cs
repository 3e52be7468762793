using System.Net;
using System.Text;
using Microsoft.Extensions.DependencyInjection;
using Npgsql;
using Registry.Intake.Formats;
using Registry.Intake.Mappings;
using Registry.Intake.Receiving;
using Registry.Records;
using Registry.Tests.Intake.Formats.Workbooks;
using Registry.Tests.Intake.Receiving;

namespace Registry.Tests.Intake.Mappings;

/// <summary>Which mapping reads a file, what it makes of its cells, and that a version once saved stays as it was.</summary>
public sealed class ColumnMappingTests(TestDatabase database)
{
    private const string Births = """{"columns":[{"header":"No","field":"record_number"},{"header":"Born","field":"birth_date","dateForm":"d.M.yyyy"},{"header":"S","field":"sex","codes":{"F":"female","M":"male"}}],"fixed":{"kind":"birth"}}""";
    private const string File = "No,Born,S\n1,1.11.2026,F\n";

    [Fact]
    public async Task The_header_finds_the_mapping_of_its_site_and_the_submission_says_which_version()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.AddMappingAsync("births", Births);
        using var client = await bed.ClientAsync(bed.Harbour);
        var (status, body, _) = await client.SendAsync(Encoding.UTF8.GetBytes(" no ,BORN,s\n1,1.11.2026,F\n"));
        Assert.True(status == HttpStatusCode.OK, body.ToString());
        Assert.Equal("births, version 1", body["submission"]!["mapping"]!.ToString());
        Assert.Equal(["2026-11-01 female"], await bed.ListAsync("select concat_ws(' ', born_on, sex) from births"));

        // Another order is another file; by its name it is read all the same.
        Assert.Equal("unknown column", (await client.SendAsync("S,No,Born\nF,2,2.11.2026\n"u8.ToArray())).Body.Reason());
        Assert.Equal(HttpStatusCode.OK, (await client.SendAsync("S,No,Born\nF,2,2.11.2026\n"u8.ToArray(), "?mapping=Births")).Status);
        // Another site does not have it.
        using var hill = await bed.ClientAsync(bed.Hill);
        Assert.Equal("unknown column", (await hill.SendAsync(Encoding.UTF8.GetBytes(File))).Body.Reason());
        Assert.Equal("the site has no column mapping of this name",
            (await hill.SendAsync(Encoding.UTF8.GetBytes(File), "?mapping=births")).Body.Reason());
        // A changed export is noticed.
        Assert.Equal("the mapping does not know this column",
            (await client.SendAsync("No,Born,S,Ward\n1,1.11.2026,F,3\n"u8.ToArray(), "?mapping=births")).Body.Reason());
        Assert.Equal("the mapping reads this column, but the file does not have it",
            (await client.SendAsync("No,Born\n1,1.11.2026\n"u8.ToArray(), "?mapping=births")).Body.Reason());
        Assert.Equal("a kind was chosen for the file, but its mapping states the kind",
            (await client.SendAsync(Encoding.UTF8.GetBytes(File), "?kind=birth")).Body.Reason());
        // A dry run reads it the same way.
        Assert.Equal("births, version 1",
            (await client.SendAsync(Encoding.UTF8.GetBytes(File), "?dry_run=true")).Body["mapping"]!.ToString());
    }

    [Fact]
    public async Task A_submission_is_read_to_its_end_with_the_version_it_came_under()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var id = await bed.AddMappingAsync("births", Births);
        var receipt = await bed.ReceiveAsync(File);
        var save = bed.App.Services.GetRequiredService<SaveMapping>();
        var read = bed.App.Services.GetRequiredService<ReadMappings>();
        var first = (await read.HistoryAsync(id, IntakeBed.Ct))[0];
        var changed = ColumnMapping.FromJson(Births.Replace("\"F\":\"female\"", "\"F\":\"unknown\"", StringComparison.Ordinal));
        Assert.Equal(2, (await save.SaveAsync(first, bed.Harbour, "births", changed, Guid.Empty, IntakeBed.Ct)).Version);
        await bed.Process.RunAsync(receipt.Id.Value, IntakeBed.Ct);
        Assert.Equal(["female"], await bed.ListAsync("select sex from births"));
        // Two edits that began from one version: the second is told.
        Assert.Equal(MappingRefusal.SavedMeanwhile,
            (await save.SaveAsync(first, bed.Harbour, "births", changed, Guid.Empty, IntakeBed.Ct)).Refusal);
        Assert.Equal(MappingRefusal.NameTaken,
            (await save.SaveAsync(null, bed.Harbour, "BIRTHS", changed, Guid.Empty, IntakeBed.Ct)).Refusal);
        Assert.Null((await save.SaveAsync(null, bed.Hill, "births", changed, Guid.Empty, IntakeBed.Ct)).Refusal);
        // Out of use, its header is unknown again and its name free.
        var second = (await read.HistoryAsync(id, IntakeBed.Ct))[0];
        Assert.Equal((2L, 1L), (second.Version, (await read.HistoryAsync(id, IntakeBed.Ct))[1].Submissions));
        await save.SaveAsync(second, bed.Harbour, "births", changed, Guid.Empty, IntakeBed.Ct, retired: true);
        Assert.Equal(ReceiptKind.Refused, (await bed.ReceiveAsync(File)).Kind);
        Assert.Null((await save.SaveAsync(null, bed.Harbour, "births", changed, Guid.Empty, IntakeBed.Ct)).Refusal);
    }

    [Theory]
    [InlineData("update column_mapping_versions set name = 'x'")]
    [InlineData("delete from column_mapping_versions")]
    [InlineData("truncate column_mapping_versions cascade")]
    public async Task A_saved_version_cannot_be_changed(string sql)
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.AddMappingAsync("births", Births);
        // Not even by the owner of the tables; the program has no right to.
        var refused = await Assert.ThrowsAsync<PostgresException>(() => bed.App.AsOwnerAsync(sql));
        Assert.Contains("append-only", refused.MessageText, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("MM/dd/yyyy", "11/02/2026", "2026-11-02")]
    [InlineData("d.M.yyyy", "2.11.2026", "2026-11-02")]
    [InlineData("yyyyMMdd", "20261102", "2026-11-02")]
    [InlineData("MM/dd/yyyy h:mm tt", "11/02/2026 1:05 PM", "2026-11-02T13:05:00")]
    [InlineData("MM/dd/yyyy h:mm tt", "11/02/2026 12:05 am", "2026-11-02T00:05:00")]
    [InlineData("yyyyMMdd HHmm", "20261102 0705", "2026-11-02T07:05:00")]
    [InlineData("HHmm", "0705", "07:05:00")]
    [InlineData("MM/dd/yyyy", "13/02/2026", null)]
    [InlineData("MM/dd/yyyy", "02/29/2026", null)]
    [InlineData("d.M.yyyy", "11/02/2026", null)]
    public void Dates_are_read_in_their_form_or_not_at_all(string form, string text, string? read) =>
        Assert.Equal(read, ReadDateForm.Read(text, form));

    [Theory]
    [InlineData("MM/dd/yy")]
    [InlineData("dd/yyyy")]
    [InlineData("MM/dd/yyyy HH")]
    [InlineData("h:mm")]
    [InlineData("yyyy-MM-dd zzz")]
    [InlineData("yyyy'x'MMdd")]
    [InlineData("MMMM d yyyy")]
    [InlineData("")]
    public void Forms_that_leave_something_to_guess_are_refused(string form) => Assert.False(ReadDateForm.IsForm(form));

    [Fact]
    public async Task A_workbook_in_own_columns_and_dates_of_its_own_is_read()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.AddMappingAsync("births", Births);
        var book = TestWorkbook.Of(
            """<row r="1"><c r="A1" t="inlineStr"><is><t>No</t></is></c><c r="B1" t="inlineStr"><is><t>Born</t></is></c><c r="C1" t="inlineStr"><is><t>S</t></is></c></row>"""
            + """<row r="2"><c r="A2"><v>1</v></c><c r="B2" s="1"><v>46327</v></c><c r="C2" t="inlineStr"><is><t>M</t></is></c></row>""", [], ["d/m/yy"]);
        Assert.Equal(["accepted"], await bed.OutcomesAsync(await bed.SendFileAsync(book, SubmissionFormat.Xlsx)));
        Assert.Equal(["2026-11-01 male"], await bed.ListAsync("select concat_ws(' ', born_on, sex) from births"));
    }

    [Fact]
    public async Task A_date_and_a_time_of_a_workbook_are_one_moment_and_what_is_left_out_may_be_in_error()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync("kind,record_number,birth_date,sex\nbirth,1,2026-11-01,female\nbirth,2,2026-11-01,female\n");
        await bed.AddMappingAsync("tests", """
            {"columns":[{"header":"No","field":"record_number"},{"header":"Day","field":"performed_at","dateForm":"MM/dd/yyyy h:mm tt"},{"header":"Time","field":"performed_at"},{"header":"Formula","field":null},{"header":"Result","field":"outcome","codes":{"P":"pass"}}],
            "fixed":{"kind":"screening","ear":"left","method":"oae"}}
            """);
        const string header = """<row r="1"><c r="A1" t="inlineStr"><is><t>No</t></is></c><c r="B1" t="inlineStr"><is><t>Day</t></is></c><c r="C1" t="inlineStr"><is><t>Time</t></is></c><c r="D1" t="inlineStr"><is><t>Formula</t></is></c><c r="E1" t="inlineStr"><is><t>Result</t></is></c></row>""";
        var book = TestWorkbook.Of(header
            + """<row r="2"><c r="A2"><v>1</v></c><c r="B2" s="1"><v>46328</v></c><c r="C2" s="2"><v>0.385416666666667</v></c><c r="D2" t="e"><v>#N/A</v></c><c r="E2" t="inlineStr"><is><t>P</t></is></c></row>"""
            + """<row r="3"><c r="A3"><v>2</v></c><c r="B3" s="3"><v>46328</v></c><c r="C3" s="2"><v>0.385416666666667</v></c><c r="D3"><v>1234567890123456</v></c><c r="E3" t="e"><v>#N/A</v></c></row>"""
            + """<row r="4"><c r="A4"><v>2</v></c><c r="B4" s="3"><v>46328</v></c><c r="C4" s="2"><v>0.385416666666667</v></c><c r="E4" t="inlineStr"><is><t>P</t></is></c></row>""",
            [], ["m/d/yyyy", "h:mm AM/PM", "m/d/yyyy h:mm"]);
        Assert.Equal(["accepted", "rejected outcome: the cell shows an error", "accepted"],
            await bed.OutcomesAsync(await bed.SendFileAsync(book, SubmissionFormat.Xlsx)));
        Assert.Equal(["2026-11-02 09:15:00", "2026-11-02 09:15:00"], await bed.ListAsync("select performed_at from screenings")
            .ContinueWith(t => t.Result.Select(d => DateTime.Parse(d, System.Globalization.CultureInfo.CurrentCulture)
            .ToString("yyyy-MM-dd HH:mm:ss",
            System.Globalization.CultureInfo.InvariantCulture)), IntakeBed.Ct, TaskContinuationOptions.None, TaskScheduler.Default));
    }

    [Fact]
    public async Task Of_two_mappings_with_one_header_the_sender_names_one()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.AddMappingAsync("births", Births);
        var second = await bed.AddMappingAsync(
            "births abroad", Births.Replace("\"birth\"", "\"birth\",\"birth_place\":\"out_of_region\"", StringComparison.Ordinal));
        using var client = await bed.ClientAsync(bed.Harbour);
        var (status, body, _) = await client.SendAsync(Encoding.UTF8.GetBytes(File));
        Assert.Equal((HttpStatusCode.BadRequest, "mapping",
            "several column mappings of the site have this header; name one: births, births abroad"), (
            status, body["errors"]![0]!["field"]!.ToString(), body.Reason()));
        Assert.Equal(HttpStatusCode.OK, (await client.SendAsync(Encoding.UTF8.GetBytes(File), "?mapping=births%20abroad")).Status);
        Assert.Equal(["out_of_region"], await bed.ListAsync("select place from births"));
        var save = bed.App.Services.GetRequiredService<SaveMapping>();
        var read = bed.App.Services.GetRequiredService<ReadMappings>();
        Assert.Equal(["births"], await read.OfSameHeaderAsync(second, IntakeBed.Ct));
        var version = (await read.HistoryAsync(second, IntakeBed.Ct))[0];
        await save.SaveAsync(version, bed.Harbour, version.Name, version.Mapping, Guid.Empty, IntakeBed.Ct, retired: true);
        Assert.Empty(await read.OfSameHeaderAsync(second, IntakeBed.Ct));
        Assert.Equal(HttpStatusCode.OK, (await client.SendAsync(Encoding.UTF8.GetBytes(File))).Status);
    }

    [Fact]
    public void Another_sample_adds_its_columns_to_a_mapping_and_lets_others_go()
    {
        var form = MappingForm.Of("births", 1, ColumnMapping.FromJson(Births));
        form.Fit(new SampleRows(["Ward", "No", "born", "Mother family name"], [["3", "1", "1.11.2026", "Ott"]]));
        Assert.Equal(["Ward:", "No:record_number", "Born:birth_date", "Mother family name:mother_family_name", "S:sex"],
            form.Columns.Select(c => $"{c.Header}:{c.Field}"));
        // The column the sample lacks is kept as long as it is read.
        Assert.Equal(5, form.ToMapping([]).Columns.Count);
        form.Columns[^1].Field = null;
        form.Columns[^1].Codes = null;
        Assert.Equal(["Ward", "No", "Born", "Mother family name"], form.ToMapping([]).Columns.Select(c => c.Header));
        // Nothing posted crashes it.
        form.Sample = """{"header":null,"rows":[null]}""";
        Assert.Null(form.SampleRows());
    }

    [Fact]
    public void A_mapping_that_contradicts_itself_is_told_why()
    {
        static string Told(string json) => string.Join("; ", ColumnMapping.FromJson(json).Problems().Select(p => $"{p.Field}: {p.Reason}"));
        Assert.Equal("", Told(Births));
        Assert.Contains("appears twice", Told("""{"columns":[{"header":"No","field":null},{"header":"NO ","field":null}]}"""), StringComparison.Ordinal);
        Assert.Contains("does not exist", Told("""{"columns":[{"header":"No","field":"number"}]}"""), StringComparison.Ordinal);
        Assert.Contains("has a fixed value and a column", Told("""{"columns":[{"header":"No","field":"ear"}],"fixed":{"ear":"left"}}"""), StringComparison.Ordinal);
        Assert.Contains("is left out, but", Told("""{"columns":[{"header":"No","field":null,"dateForm":"yyyyMMdd"}]}"""), StringComparison.Ordinal);
        Assert.Contains("the date form is made of", Told("""{"columns":[{"header":"No","field":"birth_date","dateForm":"yy"}]}"""), StringComparison.Ordinal);
    }
}
