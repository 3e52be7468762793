using System.Net;
using System.Text;
using System.Text.RegularExpressions;
using Registry.Records;
using Registry.Tests.Intake.Formats;
using Registry.Tests.Intake.Formats.Hl7V2;
using Registry.Tests.Reporting.Measures;

namespace Registry.Tests.Intake.Receiving;

/// <summary>The upload page takes a file of every ending it offers, and works without a script.</summary>
public sealed class UploadEndingsTests(TestDatabase database)
{
    private const string File = "kind,record_number,birth_date,sex\nbirth,71,2026-11-01,female\nbirth,72,2026-11-31,female\n";

    public static readonly TheoryData<string> Endings = ["csv", "csv.gz", "CSV", "xlsx", "json", "ndjson", "ndjson.gz", "hl7", "fwf",
        "fwf.gz"];

    [Theory]
    [MemberData(nameof(Endings))]
    public async Task A_file_of_every_ending_is_tried_and_taken(string ending)
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var client = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        if (ending == "hl7") await bed.SendFileAsync(Encoding.UTF8.GetBytes(Messages.Admission(number: "9")), SubmissionFormat.Hl7V2);
        var (bytes, _, _) = await SentFiles.OfAsync(ending.ToLowerInvariant(), File);
        var before = await bed.CountAsync("submissions");
        using var tried = await PostAsync(client, bytes, ending, "?handler=Try");
        Assert.Equal(HttpStatusCode.OK, tried.StatusCode);
        var page = await tried.Content.ReadAsStringAsync(IntakeBed.Ct);
        Assert.Contains("Tried, and nothing stored", page, StringComparison.Ordinal);
        Assert.DoesNotContain("cannot be read", page, StringComparison.Ordinal);
        Assert.Equal((before, 1), (await bed.CountAsync("submissions"),
            await bed.CountAsync("access_records where person_id is not null and action like 'POST %new' and infant_count > 0")));

        using var sent = await PostAsync(client, bytes, ending, "");
        Assert.Equal(HttpStatusCode.Redirect, sent.StatusCode);
        var id = new SubmissionId(Guid.Parse(sent.Headers.Location!.ToString().Split('/')[^1]));
        var outcomes = (await bed.OutcomesAsync(id)).Select(o => o.Split(' ')[0]).ToList();
        Assert.Contains("rejected", outcomes);
        Assert.True(outcomes.Count > 1);
        // What was shown before is what came.
        foreach (var outcome in new[] { "Accepted", "Rejected", "Held" })
        {
            var shown = Regex.Match(page, $"<li><span>{outcome}[^<]*</span><span>(\\d+) of").Groups[1].Value;
            Assert.Equal(outcomes.Count(o => string.Equals(o, outcome, StringComparison.OrdinalIgnoreCase))
                .ToString(System.Globalization.CultureInfo.InvariantCulture), shown);
        }
    }

    private static async Task<HttpResponseMessage> PostAsync(HttpClient client, byte[] bytes, string ending, string query)
    {
        using var form = new MultipartFormDataContent
        {
            { new ByteArrayContent(bytes), "Upload.File", $"today.{ending}" },
            { new StringContent(await SignedIn.TokenAsync(client, "/submissions/new")), "__RequestVerificationToken" },
        };
        return await client.PostAsync("/submissions/new" + query, form, IntakeBed.Ct);
    }
}
