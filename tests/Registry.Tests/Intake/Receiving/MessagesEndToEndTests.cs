using System.Net;
using System.Text;
using System.Text.RegularExpressions;
using Microsoft.Extensions.DependencyInjection;
using Registry.Intake.HeldRows;
using Registry.Records;
using Registry.Tests.Architecture;
using Registry.Tests.Intake.Formats.Hl7V2;
using static Registry.Tests.Intake.Receiving.AcknowledgementTests;

namespace Registry.Tests.Intake.Receiving;

/// <summary>HL7 v2 over HTTP to what is recorded: versions, character sets, the whole detail of a test, and what a rejected row
/// keeps.</summary>
public sealed partial class MessagesEndToEndTests(TestDatabase database)
{
    /// <summary>Versions: HL7 table 0104.</summary>
    [Theory]
    [InlineData("2.3.1"), InlineData("2.4"), InlineData("2.5"), InlineData("2.5.1"), InlineData("2.6"), InlineData("2.7"),
        InlineData("2.7.1"), InlineData("2.8"), InlineData("2.8.1"), InlineData("2.8.2")]
    public async Task Each_version_is_taken_in_and_answered_in_its_own(string version)
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await ClientAsync(bed);
        Assert.Equal("AA", Code((await PostAsync(client, Messages.Admission(version: version))).Body));
        var ack = (await PostAsync(client, Messages.Results().Replace("|P|2.6", $"|P|{version}", StringComparison.Ordinal))).Body;
        Assert.EndsWith($"|P|{version}", Lines(ack)[0], StringComparison.Ordinal);
        Assert.Equal("AA", Code(ack));
        Assert.Equal((1, 2), (await bed.CountAsync("infants"), await bed.CountAsync("screenings")));
    }

    [Fact]
    public async Task A_message_in_Latin_1_is_recorded_and_answered_in_Latin_1()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await ClientAsync(bed);
        var message = Messages.Admission(version: "2.6||||||8859/1", control: "Å-1")
            .Replace("Marlow^Ada", "Møller^Åse", StringComparison.Ordinal);
        var answer = await PostBytesAsync(client, Encoding.Latin1.GetBytes(message));
        Assert.Contains("MSA|AA|Å-1\r", Encoding.Latin1.GetString(answer), StringComparison.Ordinal);
        Assert.EndsWith("|2.6||||||8859/1", Lines(Encoding.Latin1.GetString(answer))[0], StringComparison.Ordinal);
        Assert.Equal(["Åse Møller"], await bed.ListAsync("select concat_ws(' ', mother_given_name, mother_family_name) from births"));

        // The same bytes are no UTF-8, and are not guessed at.
        answer = await PostBytesAsync(
            client, Encoding.Latin1.GetBytes(message.Replace("8859/1", "UNICODE UTF-8", StringComparison.Ordinal)));
        Assert.Contains("MSA|AR|", Encoding.Latin1.GetString(answer), StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_deletion_takes_the_result_back()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await ClientAsync(bed);
        await PostAsync(client, Messages.Admission());
        await PostAsync(client, Messages.Results());
        Assert.Equal(["MSA|AA|R-2"], Lines((await PostAsync(client, Messages.Results(status: "D", control: "R-2"))).Body)[1..]);
        Assert.Equal((0, 2, 2), (await bed.CountAsync("screenings where superseded_at is null"), await bed.CountAsync("screenings"),
            await bed.CountAsync("corrections where action = 'retract'")));
    }

    /// <summary>The message of docs/intake/hl7-v2.md that states every detail: 31,234 ms are 31.23 s.</summary>
    [Fact]
    public async Task The_documented_detail_of_a_test_is_recorded_whole()
    {
        var text = await System.IO.File.ReadAllTextAsync(Path.Combine(SourceTree.Root, "docs/intake/hl7-v2.md"), IntakeBed.Ct);
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Example().Match(text).Groups[1].Value, format: SubmissionFormat.Hl7V2);
        Assert.Equal(["no_valid_result noise dpoae P-3 UNIT-7 65/55 dB 31.23 4 0.4 61"], await bed.ListAsync(
            """
            select concat_ws(' ', s.outcome, s.reason, s.method, s.probe, s.instrument, d.stimulus, trim_scale(d.duration_seconds), d.artefacts_rejected, trim_scale(d.ear_canal_volume_ml), trim_scale(d.ambient_noise_db))
              from screenings s join screening_details d on d.screening_id = s.id
            """));
        Assert.Equal(["2000 8.1 -6.2 14.3", "3000 5 -9"], await bed.ListAsync(
            "select concat_ws(' ', frequency_hz, trim_scale(level_db_spl), trim_scale(noise_db_spl), trim_scale(snr_db)) from "
                + "screening_bands order by frequency_hz"));
    }

    [Fact]
    public async Task Detail_belongs_to_the_result_of_its_order_or_sub_id_and_its_units_count()
    {
        var rows = await ReadHl7V2RowsTests.RowsAsync(Messages.Lines(
            "MSH|^~\\&|A|HARBOUR|C|D|20261121||ORU^R01^ORU_R01|1|P|2.6", "PID|1||4711", "OBR|1||1|54111-0^^LN|||202611210915",
            "OBX|1|CWE|54109-4^^LN|R|LA10392-1^^LN||||||F", "OBX|2|ST|probe^^99REGISTRY|R|P-1||||||F",
            "OBX|3|NM|ambient_noise_db^^99REGISTRY|R|40|Pa|||||F",
            "OBX|4|CWE|54108-6^^LN|L|LA12408-3^^LN||||||F", "OBX|5|ST|X^Reason^L^reason^^99REGISTRY|L|no_seal||||||F",
            "OBX|6|ST|stimulus^^99REGISTRY|L|click||||||W",
            "OBR|2||2|54111-0^^LN|||202611210930", "OBX|1|CWE|54109-4^^LN|R|LA10392-1^^LN||||||F",
            "OBX|2|CWE|54108-6^^LN|L|LA10392-1^^LN||||||F", "OBX|3|ST|probe^^99REGISTRY||P-9||||||F",
            "OBX|4|ST|colour^^99REGISTRY|L|blue||||||F"));
        Assert.EndsWith("probe=P-1 ambient_noise_db=40 Pa ! ambient_noise_db is not in dB (OBX-6)", rows[0], StringComparison.Ordinal);
        Assert.Contains(" reason=no_seal ", rows[1], StringComparison.Ordinal);
        Assert.DoesNotContain("stimulus", rows[1], StringComparison.Ordinal);
        Assert.All(rows[2..], r =>
            Assert.EndsWith("probe=P-9 ! probe stands in an order (OBR) of several results: say by OBX-4 which it belongs to", r,
            StringComparison.Ordinal));
    }

    [Fact]
    public async Task A_rejected_row_keeps_what_was_sent_for_whoever_corrects_it()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await ClientAsync(bed);
        await PostAsync(client, Messages.Admission());
        var (_, ack, location) = await PostAsync(
            client, Messages.Results(right: "LA1-1^Ok^LN", method: "X9^Ears^L", at: "21.11.2026 09:15", status: "Z", site: ""));
        Assert.Equal("AE", Code(ack));
        using var file = await client.GetAsync($"{location}/rejected", IntakeBed.Ct);
        var csv = (await file.Content.ReadAsStringAsync(IntakeBed.Ct)).Split('\n');
        Assert.Contains("Z", csv[1].Split(','));
        Assert.Contains("LA1-1^Ok^LN", csv[1].Split(','));
        Assert.Contains("X9^Ears^L", csv[1].Split(','));
        Assert.Contains("21.11.2026 09:15", csv[1].Split(','));

        // A contradiction is not settled by asking again.
        var id = await bed.SendAsync(Messages.Results(site: "89644007^^SCT", control: "R-9"), format: SubmissionFormat.Hl7V2);
        var person = await bed.AddPersonAsync(Registry.Records.Role.Coordinator);
        var refusal = await bed.App.Services.GetRequiredService<DecideRow>().AskAgainAsync(id, 1, new(person.Id), IntakeBed.Ct);
        Assert.StartsWith("Still rejected. Ear", HeldRowWords.Of(refusal!), StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_date_of_birth_that_cannot_be_read_rejects_whatever_says_it()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await ClientAsync(bed);
        await PostAsync(client, Messages.Admission());
        var ack = (await PostAsync(client, Messages.Results(control: "R-2")
            .Replace("||20261120|F", "||20/11/26|F", StringComparison.Ordinal))).Body;
        Assert.Contains("ERR||PID^1^7|102^Data type error^HL70357|E||||birth_date is not a date (YYYYMMDD)", ack, StringComparison.Ordinal);
        Assert.Equal(0, await bed.CountAsync("screenings"));
    }

    [Fact]
    public async Task A_fault_is_answered_by_AR_when_nothing_was_taken_in_and_by_a_problem_when_it_is_kept()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await ClientAsync(bed);
        await ExecuteAsync("alter table submission_chunks rename to away");
        var (status, ack, _) = await PostAsync(client, Messages.Admission());
        Assert.Equal((HttpStatusCode.ServiceUnavailable, "MSA|AR|A-1"), (status, Lines(ack)[1]));
        Assert.Equal("ERR|||207^Application internal error^HL70357|E||||a fault of the registry: send the message again, unchanged",
            Lines(ack)[2]);
        await ExecuteAsync("alter table away rename to submission_chunks");
        Assert.Equal(0, await bed.CountAsync("submissions"));

        await ExecuteAsync("alter table submission_rows rename to away");
        (status, var kept, _) = await PostAsync(client, Messages.Admission());
        Assert.Equal(HttpStatusCode.ServiceUnavailable, status);
        Assert.Contains("The messages are kept", kept, StringComparison.Ordinal);
        await ExecuteAsync("alter table away rename to submission_rows");
        Assert.Equal("AA", Code((await PostAsync(client, Messages.Admission())).Body));
        Assert.Equal((1, 1), (await bed.CountAsync("submissions"), await bed.CountAsync("infants")));

        Task ExecuteAsync(string sql) => bed.App.AsOwnerAsync(sql);
    }

    [GeneratedRegex(@"```hl7\n(.*?)```", RegexOptions.Singleline)]
    private static partial Regex Example();

    private static async Task<byte[]> PostBytesAsync(HttpClient client, byte[] message)
    {
        using var content = new ByteArrayContent(message);
        content.Headers.ContentType = new("application/hl7-v2");
        using var response = await client.PostAsync("/api/v1/submissions", content, IntakeBed.Ct);
        return await response.Content.ReadAsByteArrayAsync(IntakeBed.Ct);
    }
}
