using System.Net;
using System.Text;
using Microsoft.Extensions.DependencyInjection;
using Registry.Intake.Formats;
using Registry.Intake.HeldRows;
using Registry.Records;
using Registry.Tests.Intake.Formats;
using Registry.Tests.Intake.Formats.Hl7V2;
using Registry.Tests.Intake.Receiving;

namespace Registry.Tests.Intake.Submissions;

/// <summary>The rejected rows of any file come back as one CSV file, which is corrected and sent as it is.</summary>
public sealed class RejectedRowsTests(TestDatabase database)
{
    private static readonly string[] Header = ["kind", "record_number", "birth_date", "sex", "mother_given_name", "mother_family_name",
        "ear", "outcome", "method", "performed_at"];

    private static readonly string[][] Rows =
    [
        ["birth", "0071", "2026-11-31", "female", "Zoë", "Núñez, \"b.\"\nÅ", "", "", "", ""],
        ["birth", "0072", "2026-11-02", "female", "Ada", "Marlow", "", "", "", ""],
        ["screening", "0072", "", "", "", "", "right", "perhaps", "oae", "2026-11-03T08:00"],
        ["vision", "0072", "", "", "", "", "left", "pass", "oae", "2026-11-03T08:05"],
    ];

    private static string Csv => string.Concat(Rows.Prepend(Header).Select(r => string.Join(',', r.Select(c => $"\"{c.Replace("\"", "\"\"", StringComparison.Ordinal)}\"")) + "\n"));

    public static readonly TheoryData<SubmissionFormat> Origins = [SubmissionFormat.Csv, SubmissionFormat.Ndjson, SubmissionFormat.Xlsx];

    [Theory]
    [MemberData(nameof(Origins))]
    public async Task Downloaded_corrected_and_sent_back_every_row_is_recorded(SubmissionFormat origin)
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var id = await bed.SendFileAsync(await FileAsync(origin), origin);
        Assert.Equal(["rejected", "accepted", "rejected", "rejected"], (await bed.OutcomesAsync(id)).Select(o => o.Split(' ')[0]));
        await CorrectAsync(bed, id, t => t.Replace("2026-11-31", "2026-11-01", StringComparison.Ordinal)
            .Replace("perhaps", "refer", StringComparison.Ordinal).Replace("vision,", "screening,", StringComparison.Ordinal));
        Assert.Equal(["0071 Zoë Núñez, \"b.\"\nÅ"], (await NamesAsync(bed, "0071")).Select(n => n.ReplaceLineEndings("\n")));
        Assert.Equal(["left pass", "right refer"], await bed.ListAsync("select concat_ws(' ', ear, outcome) from screenings order by 1"));
    }

    [Fact]
    public async Task Sent_back_uncorrected_the_same_rows_are_rejected_for_the_same_reasons()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var id = await bed.SendFileAsync(Encoding.UTF8.GetBytes(Csv), SubmissionFormat.Csv);
        var rejected = (await bed.OutcomesAsync(id)).Where(o => o.StartsWith("rejected", StringComparison.Ordinal)).ToList();
        var (again, _) = await SendBackAsync(bed, id, t => t);
        Assert.Equal(rejected, await bed.OutcomesAsync(again));
        var (third, file) = await SendBackAsync(bed, again, t => t);
        Assert.Equal(rejected, await bed.OutcomesAsync(third));
        Assert.Equal(WithoutMarks(file), WithoutMarks(await DownloadAsync(bed, third)));
        // Only the last ones wait.
        Assert.Equal([$"{third} 3"],
            await bed.ListAsync("select concat_ws(' ', submission_id, count(*)) from submission_rows where outcome = 'rejected' and "
            + "discarded_at is null group by submission_id"));
    }

    private static string WithoutMarks(string file) =>
        System.Text.RegularExpressions.Regex.Replace(file, @"\[row \d+ of [0-9a-f-]{36}\]", "");

    [Fact]
    public async Task A_row_that_comes_back_closes_the_rejected_one_of_its_own_site_once()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var id = await bed.SendFileAsync(Encoding.UTF8.GetBytes(Csv), SubmissionFormat.Csv);
        var file = (await DownloadAsync(bed, id)).Replace("2026-11-31", "2026-11-01", StringComparison.Ordinal);
        var waiting = bed.App.Services.GetRequiredService<ListWaitingRows>();
        async Task<int> WaitingAsync() => (await waiting.CountAsync(new(bed.Harbour), IntakeBed.Ct)).Rejected;

        // Another site's file names them too: they are none of its. It is the first to report the birth, and hands the infant on.
        await bed.AgreeAsync(bed.Hill, bed.Harbour);
        await bed.SendFileAsync(Encoding.UTF8.GetBytes(file), SubmissionFormat.Csv, bed.Hill);
        Assert.Equal(3, await WaitingAsync());
        // A discarded one keeps its own word; what is tried only closes nothing.
        var by = new Decider((await bed.AddPersonAsync(Registry.Records.Role.Coordinator)).Id);
        Assert.Null(await bed.App.Services.GetRequiredService<DecideRow>().DiscardAsync(id, 4, by, IntakeBed.Ct));
        using (var client = await bed.ClientAsync(bed.Harbour))
            Assert.Equal(HttpStatusCode.OK, (await client.SendAsync(Encoding.UTF8.GetBytes(file), "?dry_run=true")).Status);
        Assert.Equal(2, await WaitingAsync());

        var again = await bed.SendFileAsync(Encoding.UTF8.GetBytes(file), SubmissionFormat.Csv);
        Assert.Equal(["accepted", "rejected", "rejected"], (await bed.OutcomesAsync(again)).Select(o => o.Split(' ')[0]));
        Assert.Equal(2, await WaitingAsync()); // the two that are wrong still, in their new place
        var outcomes = await bed.OutcomesAsync(id);
        Assert.EndsWith("; sent again: the row that came back is in its place", outcomes[0], StringComparison.Ordinal);
        Assert.EndsWith("; discarded: not to be used", outcomes[3], StringComparison.Ordinal);
        Assert.Equal(["1 3"], await bed.ListAsync("select concat_ws(' ', accepted, rejected) from submissions where id = $1", id.Value));
        var refusal = await bed.App.Services.GetRequiredService<DecideRow>().DiscardAsync(id, 1, by, IntakeBed.Ct);
        Assert.Contains("it was sent again", HeldRowWords.Of(refusal!), StringComparison.Ordinal);
        Assert.Equal($"{again}/rows/1",
            (await bed.App.Services.GetRequiredService<ReadWaitingRow>().RunAsync(id, 1, IntakeBed.Ct))!.SentAgainAs);

        await bed.SendFileAsync(Encoding.UTF8.GetBytes(file), SubmissionFormat.Csv);
        Assert.Equal(outcomes, await bed.OutcomesAsync(id));
    }

    [Fact]
    public async Task A_file_in_other_columns_comes_back_in_ours()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.AddMappingAsync("lab", """
            {"columns":[{"header":"MRN","field":"record_number"},{"header":"Test day","field":"performed_at","dateForm":"MM/dd/yyyy HH:mm"},{"header":"At","field":"performed_at"},
            {"header":"Right","field":"outcome","codes":{"P":"pass","R":"refer"}},{"header":"Room","field":null}],"fixed":{"kind":"screening","ear":"right","method":"aabr"}}
            """);
        await bed.SendAsync("kind,record_number,birth_date,sex\nbirth,71,2026-11-01,female\nbirth,72,2026-11-01,female\nbirth,73,2026-11-01,female\n");
        var id = await bed.SendFileAsync(
            "MRN,Test day,At,Right,Room\n71,11/02/2026,09:15,P,3\n72,02.11.2026,09:20,R,3\n73,11/02/2026,09:25,Q,4\n"u8.ToArray(),
            SubmissionFormat.Csv);
        Assert.Equal(["accepted", "rejected performed_at: is not of the form MM/dd/yyyy HH:mm",
            "rejected outcome: unknown code; it is one of: pass, refer, no_valid_result, not_performed"], await bed.OutcomesAsync(id));
        await CorrectAsync(bed, id, t => t.Replace("02.11.2026 09:20", "2026-11-02T09:20", StringComparison.Ordinal)
            .Replace(",Q,", ",pass,", StringComparison.Ordinal));
        Assert.Equal(["71 pass 2026-11-02 09:15:00", "72 refer 2026-11-02 09:20:00", "73 pass 2026-11-02 09:25:00"], await bed.ListAsync(
            "select concat_ws(' ', i.value, s.outcome, s.performed_at) from screenings s join infant_identifiers i using (infant_id) "
                + "order by 1"));
    }

    [Fact]
    public async Task A_column_the_file_lacked_is_offered_to_be_filled_in()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync("kind,record_number,birth_date,sex\nbirth,72,2026-11-01,female\n");
        var id = await bed.SendFileAsync(
            "kind,record_number,ear,outcome,performed_at\nscreening,72,right,pass,2026-11-02T09:15\n"u8.ToArray(), SubmissionFormat.Csv);
        Assert.Equal(["rejected method: is required"], await bed.OutcomesAsync(id));
        Assert.StartsWith("kind,record_number,ear,outcome,method,performed_at,problems\nscreening,72,right,pass,,2026-11-02T09:15,",
            (await DownloadAsync(bed, id)).ReplaceLineEndings("\n"), StringComparison.Ordinal);
        await CorrectAsync(bed, id, t => t.Replace("pass,,", "pass,oae,", StringComparison.Ordinal));
    }

    [Fact]
    public async Task What_a_spreadsheet_would_compute_comes_with_an_apostrophe_and_goes_back_as_it_was()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        string[] names = ["=1+1", "'=1+1", "+45 12", "-Ott", "@Ott", "'Ott", "O'Ott"];
        var file = "kind,record_number,birth_date,sex,county\n" + string.Concat(
            names.Select((n, i) => $"birth,{i},2026-11-31,female,{n}\n"));
        var id = await bed.SendFileAsync(Encoding.UTF8.GetBytes(file), SubmissionFormat.Csv);
        var csv = await DownloadAsync(bed, id);
        foreach (var guarded in new[] { ",'=1+1,", ",''=1+1,", ",'+45 12,", ",'-Ott,", ",'@Ott,", ",'Ott,", ",O'Ott," })
            Assert.Contains(guarded, csv, StringComparison.Ordinal);
        await CorrectAsync(bed, id, t => t.Replace("2026-11-31", "2026-11-01", StringComparison.Ordinal));
        Assert.Equal(names, await bed.ListAsync("select county from births join infant_identifiers i using (infant_id) order by i.value"));
        // A file that is not of rejected rows says what it says.
        await bed.SendAsync("kind,record_number,birth_date,sex,county\nbirth,x,2026-11-01,female,'=1\n");
        Assert.Equal(["'=1"],
            await bed.ListAsync("select county from births join infant_identifiers i using (infant_id) where i.value = 'x'"));
    }

    [Fact]
    public async Task Rows_of_messages_come_back_and_are_corrected()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendFileAsync(Encoding.UTF8.GetBytes(Messages.Admission()), SubmissionFormat.Hl7V2);
        var id = await bed.SendFileAsync(Encoding.UTF8.GetBytes(Messages.Results(site: "89644007^^SCT")), SubmissionFormat.Hl7V2);
        Assert.Equal(["rejected", "accepted"], (await bed.OutcomesAsync(id)).Select(o => o.Split(' ')[0]));
        // Which ear it was is not known: the sender says it.
        await CorrectAsync(bed, id, t => Filled(t, "ear", "right"));
        Assert.Equal(["left pass", "right pass"], await bed.ListAsync("select concat_ws(' ', ear, outcome) from screenings order by 1"));
    }

    [Fact]
    public async Task Rows_of_a_bundle_come_back_and_are_corrected()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var bundle = Fhir.FhirBed.Json(Fhir.FhirBed.Bundle(Hl7.Fhir.Model.Bundle.BundleType.Batch,
            (Fhir.FhirBed.Urn(1), Fhir.FhirBed.Patient("1")), (null, Fhir.FhirBed.Result(Fhir.FhirBed.Urn(1), "LA1"))));
        var id = await bed.SendFileAsync(Encoding.UTF8.GetBytes(bundle), SubmissionFormat.Fhir);
        Assert.Equal(["accepted", "rejected"], (await bed.OutcomesAsync(id)).Select(o => o.Split(' ')[0]));
        await CorrectAsync(bed, id, t => Filled(t, "outcome", "refer"));
        Assert.Equal(["right refer"], await bed.ListAsync("select concat_ws(' ', ear, outcome) from screenings order by 1"));
    }

    [Fact]
    public async Task Rows_of_a_fixed_width_file_come_back_and_are_corrected()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var (bytes, _, _) = await SentFiles.OfAsync("fwf", "");
        var id = await bed.SendFileAsync(bytes, SubmissionFormat.FixedWidth);
        Assert.Equal(["accepted", "rejected birth_date: is not a day of the calendar"], await bed.OutcomesAsync(id));
        await CorrectAsync(bed, id, t => t.Replace("2026-11-31", "2026-11-30", StringComparison.Ordinal)
            .Replace("2026-11-30", "2026-11-03", StringComparison.Ordinal));
        Assert.Equal(["2026-1 2026-11-01", "2026-2 2026-11-03"], await bed.ListAsync(
            "select concat_ws(' ', i.value, b.born_on) from births b join infant_identifiers i using (infant_id) order by 1"));
    }

    /// <summary>The file with a value in one column of every row.</summary>
    private static string Filled(string csv, string column, string value)
    {
        var lines = csv.Split('\n', StringSplitOptions.RemoveEmptyEntries).Select(l => InspectCsv.SplitRow(l)).ToList();
        var at = lines[0].ToList().IndexOf(column);
        return string.Concat(lines.Select((cells, i) => string.Join(',', cells.Select((cell, c) => $"\"{(i > 0 && c == at ? value : cell).Replace("\"", "\"\"", StringComparison.Ordinal)}\"")) + "\n"));
    }

    [Fact]
    public async Task Only_the_sender_gets_them_and_the_read_is_recorded()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var id = await bed.SendFileAsync(Encoding.UTF8.GetBytes(Csv), SubmissionFormat.Csv);
        using var hill = await bed.ClientAsync(bed.Hill);
        Assert.Equal(HttpStatusCode.NotFound, (await hill.GetAsync($"/api/v1/submissions/{id}/rejected", IntakeBed.Ct)).StatusCode);
        Assert.Equal(0, await bed.CountAsync("access_records where kind = 'read'"));
        await DownloadAsync(bed, id);
        Assert.Equal(["GET /api/v1/submissions/{id}/rejected 3"], await bed.ListAsync(
            "select concat_ws(' ', action, infant_count) from access_records where kind = 'read'"));
    }

    private static async Task CorrectAsync(IntakeBed bed, SubmissionId id, Func<string, string> correct)
    {
        var (again, _) = await SendBackAsync(bed, id, correct);
        Assert.All(await bed.OutcomesAsync(again), outcome => Assert.Equal("accepted", outcome));
    }

    private static async Task<(SubmissionId Id, string File)> SendBackAsync(IntakeBed bed, SubmissionId id, Func<string, string> correct)
    {
        var file = await DownloadAsync(bed, id);
        using var client = await bed.ClientAsync(bed.Harbour);
        var (status, body, _) = await client.SendAsync([0xEF, 0xBB, 0xBF, .. Encoding.UTF8.GetBytes(correct(file))]);
        Assert.True(status == HttpStatusCode.OK, body.ToString());
        return (new(Guid.Parse(body["submission"]!["id"]!.ToString())), file);
    }

    private static async Task<string> DownloadAsync(IntakeBed bed, SubmissionId id)
    {
        using var client = await bed.ClientAsync(bed.Harbour);
        using var answer = await client.GetAsync($"/api/v1/submissions/{id}/rejected", IntakeBed.Ct);
        Assert.Equal((HttpStatusCode.OK, "text/csv"), (answer.StatusCode, answer.Content.Headers.ContentType!.MediaType));
        return (await answer.Content.ReadAsStringAsync(IntakeBed.Ct)).TrimStart('\uFEFF');
    }

    private static Task<List<string>> NamesAsync(IntakeBed bed, string number) => bed.ListAsync(
        "select concat_ws(' ', i.value, b.mother_given_name, b.mother_family_name) from births b join infant_identifiers i using "
            + "(infant_id) where i.value = $1", number);

    /// <summary>The rows of <see cref="Csv"/> in another format.</summary>
    private static async Task<byte[]> FileAsync(SubmissionFormat format)
    {
        if (format == SubmissionFormat.Csv) return Encoding.UTF8.GetBytes(Csv);
        var rows = Rows.Select(r => Header.Zip(r).ToDictionary(c => c.First, c => c.Second.Length > 0 ? c.Second : null)).ToList();
        if (format == SubmissionFormat.Ndjson)
            return Encoding.UTF8.GetBytes(string.Join('\n', rows.Select(r => System.Text.Json.JsonSerializer.Serialize(r))));
        using var book = new MemoryStream();
        await MiniExcelLibs.MiniExcel.SaveAsAsync(book, rows.Select(r => r.ToDictionary(c => c.Key, c => (object?)c.Value)),
            cancellationToken: IntakeBed.Ct);
        return book.ToArray();
    }
}
