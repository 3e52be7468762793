using System.Net;
using System.Text;
using System.Text.RegularExpressions;
using Registry.Records;
using Registry.Tests.Intake.Formats.Workbooks;
using Registry.Tests.Intake.Receiving;

namespace Registry.Tests.Intake.Mappings;

/// <summary>The page of a column mapping, as a browser without a script sends its forms.</summary>
public sealed partial class MappingPageTests(TestDatabase database)
{
    private const string New = "/submissions/mappings/new";

    /// <summary>A workbook of a ward: four columns, no kind; an error in a column that is left out, and one in a birth date.</summary>
    private static byte[] Ward() => TestWorkbook.Of(
        """
        <row r="1"><c r="A1" t="inlineStr"><is><t>No</t></is></c><c r="B1" t="inlineStr"><is><t>birth date</t></is></c><c r="C1" t="inlineStr"><is><t>Room</t></is></c><c r="D1" t="inlineStr"><is><t>sex</t></is></c></row>
        <row r="2"><c r="A2"><v>1</v></c><c r="B2" s="1"><v>46327</v></c><c r="C2" t="e"><v>#N/A</v></c><c r="D2" t="inlineStr"><is><t>female</t></is></c></row>
        <row r="3"><c r="A3"><v>2</v></c><c r="B3" t="e"><v>#N/A</v></c><c r="D3" t="inlineStr"><is><t>female</t></is></c></row>
        """, [], ["d/m/yy hh:mm"]);

    /// <summary>The form of a new mapping of the ward's workbook, read as births where a kind is chosen.</summary>
    private static async Task<List<(string, string)>> WardFormAsync(HttpClient client, string name, string? kind = "birth")
    {
        var sample = Sample(await SampleAsync(client, New, "ward.xlsx", Ward(), HttpStatusCode.OK, ("Form.Name", name)));
        return
        [
            ("Form.Name", name), ("Form.Sample", sample), ("Form.BasedOn", "0"),
            .. Column(0, "No", "record_number"), .. Column(1, "birth date", "birth_date"), .. Column(2, "Room", ""),
            .. Column(3, "sex", "sex"), .. kind is null ? [] : new[] { ("Form.Kind", kind) },
        ];
    }

    /// <summary>Looks at the form's rows, then saves it.</summary>
    /// <returns>The mapping's id.</returns>
    private static async Task<string> SaveWardAsync(IntakeBed bed, HttpClient client, string name)
    {
        var form = await WardFormAsync(client, name);
        form.Add(Previewed(await PostAsync(client, $"{New}?handler=Preview", HttpStatusCode.OK, form)));
        await PostAsync(client, $"{New}?handler=Save", HttpStatusCode.Redirect, form);
        return (await bed.ListAsync("select mapping_id from column_mapping_versions where name = $1", name))[0];
    }

    [Fact]
    public async Task A_sample_without_a_kind_is_not_looked_at_before_one_is_chosen()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var client = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        Assert.Contains("no kind was chosen", await PostAsync(
            client, $"{New}?handler=Preview", HttpStatusCode.UnprocessableEntity, await WardFormAsync(client, "ward", kind: null)),
            StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_preview_says_which_rows_would_pass_and_minds_no_column_that_is_left_out()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var client = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        var page = await PostAsync(client, $"{New}?handler=Preview", HttpStatusCode.OK, await WardFormAsync(client, "ward"));
        // The day shown with a time is the day.
        Assert.Contains("1 of 2 rows would pass", page, StringComparison.Ordinal);
        Assert.Single(Regex.Matches(page, "</code> the cell shows an error"));
    }

    [Fact]
    public async Task A_saved_mapping_reads_files_of_its_header()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var client = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        await SaveWardAsync(bed, client, "ward");
        Assert.Equal(HttpStatusCode.OK, (await (await bed.ClientAsync(bed.Harbour))
            .SendAsync("No,birth date,Room,sex\n7,2026-11-01,3,female\n"u8.ToArray(), "?kind=birth")).Status);
    }

    [Fact]
    public async Task Another_mapping_of_the_same_header_is_saved_with_a_warning()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var client = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        await SaveWardAsync(bed, client, "ward");
        var second = await SaveWardAsync(bed, client, "ward again");
        Assert.Contains("same header (ward)", await client.GetStringAsync($"/submissions/mappings/{second}", IntakeBed.Ct),
            StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_changed_export_one_column_more_and_one_fewer_becomes_the_next_version()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var client = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        var id = await SaveWardAsync(bed, client, "ward");
        var page = await SampleAsync(client, $"/submissions/mappings/{id}", "ward.csv",
            "No,birth date,sex,Ward\n1,2026-11-01,female,W2\n"u8.ToArray(), HttpStatusCode.OK, ("Form.Kind", "birth"));
        Assert.Contains("Ward", page, StringComparison.Ordinal);
        Assert.Contains("1 of 1 row would pass", page, StringComparison.Ordinal);
        List<(string, string)> changed =
        [
            ("Form.Name", "ward"), ("Form.Sample", Sample(page)), ("Form.BasedOn", "1"), ("Form.Kind", "birth"), Previewed(page),
            .. Column(0, "No", "record_number"), .. Column(1, "birth date", "birth_date"), .. Column(2, "sex", "sex"),
            .. Column(3, "Ward", ""), .. Column(4, "Room", ""),
        ];
        await PostAsync(client, $"/submissions/mappings/{id}?handler=Save", HttpStatusCode.Redirect, changed);
        Assert.Equal(["No birth date sex Ward"], await bed.ListAsync(
            """
            select string_agg(c ->> 'header', ' ' order by n)
              from column_mapping_versions v, jsonb_array_elements(document -> 'columns') with ordinality as e (c, n)
             where name = 'ward' and version = 2
            """));
    }

    [Fact]
    public async Task Whatever_is_posted_is_told_what_is_wrong_with_it()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var client = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        Assert.Contains("half a character is missing", await SampleAsync(
            client, New, "a.csv", [0xFF, 0xFE, .. Encoding.Unicode.GetBytes("No,Born\n1,2\n"), 0x41], HttpStatusCode.UnprocessableEntity,
            ("Form.Name", "x")), StringComparison.Ordinal);
        foreach (var bytes in new byte[][] { [0], "a,a\n1,2\n"u8.ToArray(), "a,\n1,2\n"u8.ToArray(), "\n\n"u8.ToArray(),
            "\"a\n"u8.ToArray(), [0x50, 0x4B, 3, 4] })
        {
            foreach (var name in new[] { "a.csv", "a.xlsx" })
                await SampleAsync(client, New, name, bytes, null, ("Form.Name", "x"));
        }

        foreach (var handler in new[] { "Preview", "Save" })
        {
            foreach (var sample in new[] { "", "{}", "[]", "null", "{\"header\":[null],\"rows\":[null]}",
                "{\"header\":[\"\"],\"rows\":[[\"1\"]],\"unread\":[null]}" })
            {
                foreach (var header in new[] { "", "No" })
                    await PostAsync(client, $"{New}?handler={handler}", null,
                        [("Form.Name", "x"), ("Form.Sample", sample), .. Column(0, header, "record_number"),
                        .. Column(1, header, "nonsense"), ("Form.Fixed[0].Field", "kind"), ("Form.Fixed[0].Value", "")]);
            }
        }
    }

    private static IEnumerable<(string, string)> Column(int i, string header, string field) =>
        [($"Form.Columns[{i}].Header", header), ($"Form.Columns[{i}].Field", field)];

    private static (string, string) Previewed(string page) =>
        ("Form.Previewed", Regex.Match(page, "name=\"Form.Previewed\" value=\"([0-9a-f]+)\"").Groups[1].Value);

    private static string Sample(string page) => WebUtility.HtmlDecode(SampleField().Match(page).Groups[1].Value);

    private static async Task<string> SampleAsync(HttpClient client, string path, string name, byte[] bytes, HttpStatusCode? expected,
        params (string Name, string Value)[] fields)
    {
        using var form = new MultipartFormDataContent { { new ByteArrayContent(bytes), "SampleFile", name },
            { new StringContent(await SignedIn.TokenAsync(client, New)), "__RequestVerificationToken" } };
        foreach (var (field, value) in fields) form.Add(new StringContent(value), field);
        using var answer = await client.PostAsync(path + "?handler=Sample", form, IntakeBed.Ct);
        return await ReadAsync(answer, expected);
    }

    private static async Task<string> PostAsync(HttpClient client, string path, HttpStatusCode? expected,
        List<(string Name, string Value)> fields)
    {
        using var form = new FormUrlEncodedContent(
            [.. fields.Select(f => KeyValuePair.Create(f.Name, f.Value)),
            new("__RequestVerificationToken", await SignedIn.TokenAsync(client, New))]);
        using var answer = await client.PostAsync(path, form, IntakeBed.Ct);
        return await ReadAsync(answer, expected);
    }

    private static async Task<string> ReadAsync(HttpResponseMessage answer, HttpStatusCode? expected)
    {
        if (expected is null) Assert.True(answer.StatusCode is HttpStatusCode.OK or HttpStatusCode.UnprocessableEntity,
            answer.StatusCode.ToString());
        else Assert.Equal(expected, answer.StatusCode);
        return await answer.Content.ReadAsStringAsync(IntakeBed.Ct);
    }

    [GeneratedRegex("name=\"Form.Sample\" value=\"([^\"]*)\"")]
    private static partial Regex SampleField();
}
