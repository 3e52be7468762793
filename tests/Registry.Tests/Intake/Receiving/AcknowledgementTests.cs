using System.Net;
using System.Net.Http.Headers;
using System.Text;
using Microsoft.Extensions.DependencyInjection;
using Registry.Access;
using Registry.Intake;
using Registry.Intake.Receiving;
using Registry.Records;
using Registry.Tests.Intake.Formats.Hl7V2;
using Registry.Tests.Reporting.Measures;

namespace Registry.Tests.Intake.Receiving;

/// <summary>HL7 v2 over HTTP, and what is answered. Codes: HL7 tables 0008, 0357, 0516.</summary>
public sealed class AcknowledgementTests(TestDatabase database)
{
    [Fact]
    public async Task A_message_is_acknowledged_when_it_is_committed()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await ClientAsync(bed);
        var (status, ack, _) = await PostAsync(client, Messages.Admission());
        Assert.Equal(HttpStatusCode.OK, status);
        var lines = Lines(ack);
        Assert.Matches(@"^MSH\|\^~\\&\|REGISTRY\|LINDMERE\|WARD\|HARBOUR\|20261125120000\+0000\|\|ACK\^A01\^ACK\|[0-9a-f]{20}\|P\|2\.6$", lines[0]);
        Assert.Equal(["MSA|AA|A-1"], lines[1..]);
        Assert.Equal("AA", Code((await PostAsync(client, Messages.Results(left: Messages.Refer))).Body));
        Assert.Equal(["left refer", "right pass"], await bed.ListAsync("select concat_ws(' ', ear, outcome) from screenings order by ear"));
        Assert.Equal(1, await bed.CountAsync("infants"));
    }

    [Fact]
    public async Task What_is_wrong_is_named_by_its_place_and_the_rest_is_taken_in()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await ClientAsync(bed);
        await PostAsync(client, Messages.Admission());
        var ack = (await PostAsync(client, Messages.Results(right: "LA1-1^Pass^LN", at: "202611210915", method: Messages.Aabr)
            .Replace("89644007^^SCT", "25577004^^SCT", StringComparison.Ordinal))).Body;
        Assert.Equal(
        [
            "MSA|AE|R-1",
            "ERR||OBX^1^5|103^Table value not found^HL70357|E||||outcome unknown code; OBX-5 is an answer of LOINC 54109-4 / 54108-6 (LN) "
                + "or its SNOMED CT code (SCT)",
            "ERR||OBX^3^20|103^Table value not found^HL70357|E|rule^a rule of the registry is broken^99REGISTRY|||ear contradicts the "
                + "observation site (OBX-20): 25577004 is the right ear, 89644007 the left",
        ], Lines(ack)[1..]);
        ack = (await PostAsync(client, Messages.Results(right: "LA1-1^Pass^LN", control: "R-2"))).Body;
        Assert.Equal("AE", Code(ack));
        Assert.Equal(["left pass"], await bed.ListAsync("select concat_ws(' ', ear, outcome) from screenings"));
        ack = (await PostAsync(client, Messages.Results(control: "R-3", at: "202612210915")
            .Replace("|S12|", "||", StringComparison.Ordinal))).Body;
        Assert.Contains("ERR||OBX^1^14|102^Data type error^HL70357|E|rule^a rule of the registry is broken^99REGISTRY|||performed_at is "
            + "in the future", ack, StringComparison.Ordinal);
        ack = (await PostAsync(client, Messages.Results(control: "R-4", at: ""))).Body;
        Assert.Contains("ERR||OBX^1^14|101^Required field missing^HL70357|E||||performed_at is required", ack, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Another_name_beside_a_right_code_is_a_warning_and_so_is_what_is_not_kept()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await ClientAsync(bed);
        await PostAsync(client, Messages.Admission());
        Assert.Equal(
        [
            "MSA|AA|R-1",
            "ERR||OBX^2^5|0^Message accepted^HL70357|W||||the name beside the code is not the code's; the code was taken",
            "ERR||OBX^1^5^1|0^Message accepted^HL70357|W||||this risk is known, but none of the indicators that are kept; it was not "
                + "recorded",
        ], Lines((await PostAsync(client, Messages.Results(right: "LA10392-1^Refer^LN", left: "164059009^O/E - hearing normal^SCT",
            extra: "OBX|1|CWE|58232-0^^LN|1|LA12670-8^Assisted ventilation^LN||||||F"))).Body)[1..].Order(StringComparer.Ordinal)
                .OrderBy(l => l[0] == 'M' ? 0 : l.Contains("OBX^2", StringComparison.Ordinal) ? 1 : 2));
        Assert.Equal(["AA", "nothing to record"], Reply((await PostAsync(client, Messages.Admission(type: "E", control: "A-9"))).Body));

        static string[] Reply(string ack) => [Code(ack), Lines(ack)[^1].Split("||||")[^1][..17]];
    }

    [Fact]
    public async Task What_waits_is_accepted_with_a_warning_and_applied_later()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await ClientAsync(bed);
        var ack = (await PostAsync(client, Messages.Results())).Body;
        Assert.Equal("AA", Code(ack));
        Assert.Equal(2, Lines(ack).Count(
            l => l.Contains("|0^Message accepted^HL70357|W||||screening is kept and waits: No such infant yet", StringComparison.Ordinal)));
        await PostAsync(client, Messages.Admission());
        Assert.Equal(2, await bed.CountAsync("screenings"));
    }

    [Fact]
    public async Task A_header_that_cannot_be_taken_is_rejected()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await ClientAsync(bed);
        var ack = (await PostAsync(client, Messages.Admission(version: "3.0"))).Body;
        Assert.Equal(["MSA|AR|A-1",
            "ERR||MSH^1^12|203^Unsupported version id^HL70357|E||||MSH-12 is not one of 2.3.1, 2.4, 2.5, 2.5.1, 2.6, 2.7, 2.7.1, 2.8, "
            + "2.8.1, 2.8.2"], Lines(ack)[1..]);
        Assert.Contains("|200^Unsupported message type^HL70357|",
            (await PostAsync(client, Messages.Admission().Replace("ADT^A01", "MDM^T02", StringComparison.Ordinal))).Body,
            StringComparison.Ordinal);
        var (status, refused, _) = await PostAsync(client, "not a message");
        Assert.Equal(HttpStatusCode.BadRequest, status);
        Assert.Equal("AR", Code(refused));
        Assert.Contains("|100^Segment sequence error^HL70357|E|", refused, StringComparison.Ordinal);
        Assert.Equal(0, await bed.CountAsync("infants"));
        Assert.Equal(3, await bed.CountAsync("submissions"));
    }

    [Fact]
    public async Task Older_versions_are_answered_in_their_form_and_a_commit_acknowledgement_where_only_that_is_asked_for()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await ClientAsync(bed);
        var ack = (await PostAsync(client, Messages.Admission(version: "2.3.1", born: "20271120"))).Body;
        Assert.Equal(["MSA|AE|A-1|birth_date is in the future", "ERR|PID^1^7^102&Data type error&HL70357"], Lines(ack)[1..]);
        ack = (await PostAsync(client, Messages.Admission(version: "2.6|||AL|NE"))).Body;
        Assert.Equal("CA", Code(ack));
    }

    [Fact]
    public async Task A_message_sent_again_changes_nothing_and_control_ids_may_come_again()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await ClientAsync(bed);
        var first = await PostAsync(client, Messages.Admission());
        var again = await PostAsync(client, Messages.Admission());
        Assert.Equal(first.Location, again.Location);
        Assert.Equal("AA", Code(again.Body));
        Assert.Equal(1, await bed.CountAsync("submissions"));
        Assert.Equal("AA", Code((await PostAsync(client, Messages.Admission(number: "4712", born: "20261119"))).Body));
        Assert.Equal(2, await bed.CountAsync("infants"));

        // The next day the bytes are worked through again, and change nothing either.
        var next = await bed.Receive.ReceiveAsync(bed.Harbour, SubmissionFormat.Hl7V2, null,
            new MemoryStream(Encoding.UTF8.GetBytes(Messages.Admission())), default, bed.Now.AddDays(1), null, null, IntakeBed.Ct);
        Assert.Equal(ReceiptKind.Received, next.Kind);
        await bed.Process.RunAsync(next.Id.Value, IntakeBed.Ct);
        Assert.Equal(["unchanged"], await bed.OutcomesAsync(next.Id));
    }

    [Fact]
    public async Task A_correction_replaces_and_a_deletion_takes_back()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await ClientAsync(bed);
        await PostAsync(client, Messages.Admission());
        await PostAsync(client, Messages.Results());
        Assert.Contains("waits", (await PostAsync(client, Messages.Results(right: Messages.Refer, control: "R-2"))).Body,
            StringComparison.Ordinal);
        Assert.Equal("AA", Code((await PostAsync(client, Messages.Results(right: Messages.Refer, status: "C", control: "R-3"))).Body));
        Assert.Equal(["left pass", "right refer"], await bed.ListAsync(
            "select concat_ws(' ', ear, outcome) from screenings where superseded_at is null order by ear"));
        Assert.Equal("AA", Code((await PostAsync(client, Messages.Results(right: Messages.Refer, status: "W", control: "R-4"))).Body));
        Assert.Empty(await bed.ListAsync("select ear from screenings where superseded_at is null"));
        // The first message once more, after all that: it was said, and taken back since.
        Assert.Equal("AA", Code((await PostAsync(client, Messages.Results(control: "R-5"))).Body));
        Assert.Empty(await bed.ListAsync("select ear from screenings where superseded_at is null"));
    }

    [Fact]
    public async Task Merged_numbers_are_attached_where_one_is_known_and_held_where_two_are()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await ClientAsync(bed);
        await PostAsync(client, Messages.Admission());
        Assert.Equal(["MSA|AA|M-1"], Lines((await PostAsync(client, Messages.Merge("5000", "4711"))).Body)[1..]);
        Assert.Equal(["4711", "5000"], await bed.ListAsync("select value from infant_identifiers order by value"));
        Assert.Equal(["MSA|AA|R-1"], Lines((await PostAsync(client, Messages.Results(number: "5000"))).Body)[1..]);
        Assert.Equal("AA", Code((await PostAsync(client, Messages.Merge("5000", "3999", "M-2"))).Body));
        Assert.Equal(1, await bed.CountAsync("infants"));

        await PostAsync(client, Messages.Admission(number: "6000", born: "20261118", control: "A-2")
            .Replace("Marlow", "Quist", StringComparison.Ordinal));
        var two = (await PostAsync(client, Messages.Merge("5000", "6000", "M-3"))).Body;
        Assert.Contains("merge is kept and waits: Its identifiers belong to two different infants", two, StringComparison.Ordinal);
        Assert.Equal(2, await bed.CountAsync("infants"));
    }

    [Fact]
    public async Task A_merge_waits_for_either_number()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await ClientAsync(bed);
        Assert.Contains("merge is kept and waits", (await PostAsync(client, Messages.Merge("5000", "4711"))).Body,
            StringComparison.Ordinal);
        await PostAsync(client, Messages.Admission());
        await bed.App.Services.GetRequiredService<SweepSubmissions>().RunAsync(IntakeBed.Ct);
        Assert.Equal(["4711", "5000"], await bed.ListAsync("select value from infant_identifiers order by value"));
    }

    [Fact]
    public async Task A_batch_is_answered_by_a_batch()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await ClientAsync(bed);
        var ack = (await PostAsync(
            client, "FHS|^~\\&|WARD|HARBOUR|REGISTRY|LINDMERE|20261121||||F-1\rBHS|^~\\&|WARD|HARBOUR|REGISTRY|LINDMERE|20261121||||B-1\r"
            + Messages.Admission() + Messages.Admission(control: "A-2", version: "9") + Messages.Results() + "BTS|3\rFTS|1\r")).Body;
        Assert.Equal(["FHS", "BHS", "MSH", "MSA|AA|A-1", "MSH", "MSA|AR|A-2", "ERR", "MSH", "MSA|AA|R-1", "BTS|3", "FTS|1"],
            Lines(ack).Select(l => l.StartsWith("MSA", StringComparison.Ordinal) || l[1] == 'T' ? l : l[..3]));
        Assert.EndsWith("|F-1", Lines(ack)[0], StringComparison.Ordinal);
        Assert.EndsWith("|B-1", Lines(ack)[1], StringComparison.Ordinal);
        Assert.StartsWith("FHS|^~\\&|REGISTRY|LINDMERE|WARD|HARBOUR|", Lines(ack)[0], StringComparison.Ordinal);
    }

    [Fact]
    public async Task The_answer_is_given_again_and_as_JSON_on_demand_and_to_nobody_else()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await ClientAsync(bed);
        var (_, _, location) = await PostAsync(client, Messages.Admission());
        var again = await client.GetAsync($"{location}/acknowledgement", IntakeBed.Ct);
        Assert.Equal("application/hl7-v2", again.Content.Headers.ContentType!.MediaType);
        Assert.Equal("AA", Code(await again.Content.ReadAsStringAsync(IntakeBed.Ct)));
        using var other = await ClientAsync(bed, bed.Hill);
        Assert.Equal(HttpStatusCode.NotFound, (await other.GetAsync($"{location}/acknowledgement", IntakeBed.Ct)).StatusCode);
        client.DefaultRequestHeaders.Accept.Add(new("application/json"));
        Assert.Contains("\"accepted\":1", (await PostAsync(client, Messages.Admission())).Body, StringComparison.Ordinal);
    }

    internal static string[] Lines(string ack) => ack.TrimEnd('\r').Split('\r');

    internal static string Code(string ack) => Lines(ack).First(l => l.StartsWith("MSA", StringComparison.Ordinal)).Split('|')[1];

    internal static async Task<HttpClient> ClientAsync(IntakeBed bed, SiteId? site = null)
    {
        await using var scope = bed.App.Services.CreateAsyncScope();
        var (_, secret) = await scope.ServiceProvider.GetRequiredService<SiteKeys>().IssueAsync(site ?? bed.Harbour, "ward", IntakeBed.Ct);
        var client = bed.App.CreateClient();
        client.DefaultRequestHeaders.Authorization = new("Bearer", secret);
        return client;
    }

    internal static async Task<(HttpStatusCode Status, string Body, string? Location)> PostAsync(HttpClient client, string message)
    {
        using var content = new ByteArrayContent(Encoding.UTF8.GetBytes(message));
        content.Headers.ContentType = new MediaTypeHeaderValue("application/hl7-v2");
        using var response = await client.PostAsync("/api/v1/submissions", content, IntakeBed.Ct);
        return (response.StatusCode, await response.Content.ReadAsStringAsync(IntakeBed.Ct), response.Headers.Location?.ToString());
    }
}
