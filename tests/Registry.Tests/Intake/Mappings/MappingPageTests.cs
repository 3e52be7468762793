using System.Net;
using System.Text;
using System.Text.RegularExpressions;
using Registry.Records;
using Registry.Tests.Access;
using Registry.Tests.Intake.Formats.Workbooks;
using Registry.Tests.Intake.Receiving;

namespace Registry.Tests.Intake.Mappings;

/// <summary>The page of a column mapping, as a browser without a script sends its forms.</summary>
public sealed partial class MappingPageTests(TestDatabase database)
{
    private const string New = "/submissions/mappings/new";

    [Fact]
    public async Task A_mapping_without_a_kind_is_looked_at_as_a_chosen_one_saved_and_gains_a_column()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var client = await WhoSeesWhatTests.SignedInAsync(bed, Role.SiteManager, bed.Harbour);
        var book = TestWorkbook.Of(
            """
            <row r="1"><c r="A1" t="inlineStr"><is><t>No</t></is></c><c r="B1" t="inlineStr"><is><t>birth date</t></is></c><c r="C1" t="inlineStr"><is><t>Room</t></is></c><c r="D1" t="inlineStr"><is><t>sex</t></is></c></row>
            <row r="2"><c r="A2"><v>1</v></c><c r="B2" s="1"><v>46327</v></c><c r="C2" t="e"><v>#N/A</v></c><c r="D2" t="inlineStr"><is><t>female</t></is></c></row>
            <row r="3"><c r="A3"><v>2</v></c><c r="B3" t="e"><v>#N/A</v></c><c r="D3" t="inlineStr"><is><t>female</t></is></c></row>
            """, [], ["d/m/yy hh:mm"]);
        var sample = Sample(await SampleAsync(client, New, "ward.xlsx", book, HttpStatusCode.OK, ("Form.Name", "ward")));
        List<(string, string)> form =
        [
            ("Form.Name", "ward"), ("Form.Sample", sample), ("Form.BasedOn", "0"),
            .. Column(0, "No", "record_number"), .. Column(1, "birth date", "birth_date"), .. Column(2, "Room", ""),
            .. Column(3, "sex", "sex"),
        ];
        Assert.Contains("no kind was chosen", await PostAsync(client, $"{New}?handler=Preview", HttpStatusCode.UnprocessableEntity, form),
            StringComparison.Ordinal);
        form.Add(("Form.Kind", "birth"));
        var page = await PostAsync(client, $"{New}?handler=Preview", HttpStatusCode.OK, form);
        // The error in a column that is left out does not matter; the day shown with a time is the day.
        Assert.Contains("1 of 2 rows would pass", page, StringComparison.Ordinal);
        Assert.Single(Regex.Matches(page, "</code> the cell shows an error"));
        form.Add(("Form.Previewed", Regex.Match(page, "name=\"Form.Previewed\" value=\"([0-9a-f]+)\"").Groups[1].Value));
        page = await PostAsync(client, $"{New}?handler=Save", HttpStatusCode.Redirect, form);
        var id = (await bed.ListAsync("select mapping_id from column_mapping_versions"))[0];
        Assert.Equal(HttpStatusCode.OK, (await (await bed.ClientAsync(bed.Harbour))
            .SendAsync("No,birth date,Room,sex\n7,2026-11-01,3,female\n"u8.ToArray(), "?kind=birth")).Status);

        // Another mapping of the same header is saved with a warning.
        form[0] = ("Form.Name", "ward again");
        page = await PostAsync(client, $"{New}?handler=Preview", HttpStatusCode.OK, form);
        form[^1] = ("Form.Previewed", Regex.Match(page, "name=\"Form.Previewed\" value=\"([0-9a-f]+)\"").Groups[1].Value);
        await PostAsync(client, $"{New}?handler=Save", HttpStatusCode.Redirect, form);
        var second = (await bed.ListAsync("select mapping_id from column_mapping_versions where name = 'ward again'"))[0];
        Assert.Contains("same header (ward)", await client.GetStringAsync($"/submissions/mappings/{second}", IntakeBed.Ct),
            StringComparison.Ordinal);

        // A changed export: one column more, one fewer.
        page = await SampleAsync(client, $"/submissions/mappings/{id}", "ward.csv",
            "No,birth date,sex,Ward\n1,2026-11-01,female,W2\n"u8.ToArray(), HttpStatusCode.OK, ("Form.Kind", "birth"));
        Assert.Contains("Ward", page, StringComparison.Ordinal);
        Assert.Contains("1 of 1 row would pass", page, StringComparison.Ordinal);
        List<(string, string)> changed =
        [
            ("Form.Name", "ward"), ("Form.Sample", Sample(page)), ("Form.BasedOn", "1"), ("Form.Kind", "birth"),
            ("Form.Previewed", Regex.Match(page, "name=\"Form.Previewed\" value=\"([0-9a-f]+)\"").Groups[1].Value),
            .. Column(0, "No", "record_number"), .. Column(1, "birth date", "birth_date"), .. Column(2, "sex", "sex"),
            .. Column(3, "Ward", ""), .. Column(4, "Room", ""),
        ];
        await PostAsync(client, $"/submissions/mappings/{id}?handler=Save", HttpStatusCode.Redirect, changed);
        Assert.Equal(["No birth date sex Ward"], await bed.ListAsync(
            "select string_agg(c ->> 'header', ' ' order by n) from column_mapping_versions v, jsonb_array_elements(document -> "
                + "'columns') with ordinality as e (c, n) where name = 'ward' and version = 2"));
    }

    [Fact]
    public async Task Whatever_is_posted_is_told_what_is_wrong_with_it()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var client = await WhoSeesWhatTests.SignedInAsync(bed, Role.SiteManager, bed.Harbour);
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

    private static string Sample(string page) => WebUtility.HtmlDecode(SampleField().Match(page).Groups[1].Value);

    private static async Task<string> SampleAsync(HttpClient client, string path, string name, byte[] bytes, HttpStatusCode? expected,
        params (string Name, string Value)[] fields)
    {
        using var form = new MultipartFormDataContent { { new ByteArrayContent(bytes), "SampleFile", name },
            { new StringContent(await WhoSeesWhatTests.TokenAsync(client, New)), "__RequestVerificationToken" } };
        foreach (var (field, value) in fields) form.Add(new StringContent(value), field);
        using var answer = await client.PostAsync(path + "?handler=Sample", form, IntakeBed.Ct);
        return await ReadAsync(answer, expected);
    }

    private static async Task<string> PostAsync(HttpClient client, string path, HttpStatusCode? expected,
        List<(string Name, string Value)> fields)
    {
        using var form = new FormUrlEncodedContent(
            [.. fields.Select(f => KeyValuePair.Create(f.Name, f.Value)),
            new("__RequestVerificationToken", await WhoSeesWhatTests.TokenAsync(client, New))]);
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
