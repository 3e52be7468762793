using System.Text;
using Microsoft.Extensions.DependencyInjection;
using Registry.Access;
using Registry.Records;

namespace Registry.Tests.Intake.Submissions;

/// <summary>The same file every night: what waits does so once, whatever it waits for, and every answer says what is so.</summary>
public sealed class SentAgainTests(TestDatabase database)
{
    private const string Header = "kind," + IntakeBed.Who + ",ear,outcome,method,performed_at,action\n";

    /// <summary>A birth, one that agrees with it by chance, a test of nobody, a retraction of nothing, a test told differently.</summary>
    private const string Nightly = Header + """
        birth,A1,,2026-11-01,female,,Ada,Marlow,1995-02-03,,,,,
        birth,A2,,2026-11-01,female,,Ada,Marlow,1990-08-30,,,,,
        screening,Z9,,,,,,,,right,pass,aabr,2026-11-02T09:15,
        screening,A1,,,,,,,,left,,,2026-11-02T09:20,retract
        screening,A1,,,,,,,,right,pass,aabr,2026-11-02T09:15,
        screening,A1,,,,,,,,right,refer,aabr,2026-11-02T09:15,

        """;

    [Fact]
    public async Task A_row_sent_every_night_waits_once_whatever_its_reason_and_is_still_waiting()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        Assert.Equal(["accepted", "held partial_agreement", "held no_such_infant", "held nothing_recorded", "accepted",
            "held contradicts_record"], await bed.OutcomesAsync(await bed.SendAsync(Nightly)));
        for (var night = 0; night < 2; night++)
        {
            var again = await bed.SendAsync(Nightly);
            Assert.Equal(["unchanged", "still_waiting", "still_waiting", "still_waiting", "unchanged", "still_waiting"],
                await bed.OutcomesAsync(again));
            Assert.Equal(["2 4 0"], await bed.ListAsync(
                "select concat_ws(' ', unchanged, still_waiting, held) from submissions where id = $1", again.Value));
        }

        Assert.Equal(4, await bed.CountAsync("held_rows where resolution is null"));

        // What waited settles once, and the next night nothing of it waits.
        await bed.SendAsync(Header + "birth,Z9,,2026-11-01,male,,Cleo,Ness,1988-01-01,,,,,\n");
        Assert.Equal("unchanged", (await bed.OutcomesAsync(await bed.SendAsync(Nightly)))[2]);
    }

    [Fact]
    public async Task Identical_rows_of_one_file_wait_once()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        const string waits = "screening,Z9,,,,,,,,right,pass,aabr,2026-11-02T09:15,\n";
        const string wrong = "screening,Z9,,,,,,,,middle,pass,aabr,2026-11-02T09:15,\n";
        var outcomes = await bed.OutcomesAsync(await bed.SendAsync(Header + waits + wrong + waits + wrong));
        Assert.Equal(["held no_such_infant", "still_waiting"], [outcomes[0], outcomes[2]]);
        Assert.StartsWith("rejected ear", outcomes[3], StringComparison.Ordinal);
        Assert.Equal(2, await bed.CountAsync("submission_rows where outcome in ('held', 'rejected') and discarded_at is null"));
    }

    [Fact]
    public async Task The_rejected_rows_of_a_file_sent_again_are_given_and_come_back_for_those_that_wait()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        const string file = Header + "birth,A1,,2026-11-31,female,,Ada,Marlow,1995-02-03,,,,,\n";
        await bed.SendAsync(file);
        var again = await bed.SendAsync(file);
        using var client = await ClientAsync(bed);
        var rejected = await client.GetStringAsync($"/api/v1/submissions/{again}/rejected", IntakeBed.Ct);
        Assert.Contains("2026-11-31", rejected, StringComparison.Ordinal);
        Assert.Equal(["accepted"], await bed.OutcomesAsync(await bed.SendFileAsync(
            Encoding.UTF8.GetBytes(rejected.Replace("2026-11-31", "2026-11-30", StringComparison.Ordinal)
                .Replace("2026-11-30", "2026-11-20", StringComparison.Ordinal)), SubmissionFormat.Csv)));
        Assert.Equal(0, await bed.CountAsync("submission_rows where outcome = 'rejected' and discarded_at is null"));
    }

    [Fact]
    public async Task Two_arrays_of_rows_in_one_object_are_an_error()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var receipt = await bed.ReceiveAsync(
            """{"rows":[{"kind":"birth","record_number":"A1","birth_date":"2026-11-01","sex":"female"}],"rows":[]}""",
            format: SubmissionFormat.Json);
        Assert.Equal(Registry.Intake.Receiving.ReceiptKind.Refused, receipt.Kind);
        Assert.Contains(receipt.Problems, p => p is { Field: "rows", Reason: "is stated twice" });
        Assert.Equal(0, await bed.CountAsync("infants"));
    }

    [Theory]
    [InlineData("/api/v1/measures?from=0001-01-01"), InlineData("/api/v1/measures?from=9999-12-31&to=9999-12-31")]
    [InlineData("/api/v1/measures?asOf=0001-01-01"), InlineData("/api/v1/measures?knownAt=0001-01-01")]
    [InlineData("/api/v1/measures?to=9999-12-31")]
    [InlineData("/api/v1/measures?knownAt=0001-01-01T00:00:00Z"), InlineData("/api/v1/export/facts?asOf=0001-01-01")]
    [InlineData("/api/v1/export/statuses?asOf=0001-01-01"), InlineData("/api/v1/submissions/no-id")]
    [InlineData("/api/v1/submissions/no-id/rows")]
    [InlineData("/api/v1/submissions/no-id/rejected"), InlineData("/api/v1/submissions/no-id/acknowledgement")]
    [InlineData("/fhir/Measure/cbe-1354/$evaluate-measure?periodStart=0001&periodEnd=0001")]
    [InlineData("/fhir/Measure/cbe-1354/$evaluate-measure?periodStart=9999-12&periodEnd=9999-12")]
    public async Task A_far_year_or_an_id_that_is_none_is_the_callers_mistake(string path)
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        using var answer = await client.GetAsync(path, IntakeBed.Ct);
        Assert.Equal(System.Net.HttpStatusCode.BadRequest, answer.StatusCode);
    }

    [Theory]
    [InlineData("/?asOf=0001-01-01"), InlineData("/infants?asOf=0001-01-01"), InlineData("/infants?from=0001-01-01&to=9999-12-31")]
    [InlineData("/sites?from=0001-01-01&to=0001-01-01&asOf=0001-01-02"), InlineData("/submissions?from=0001-01-01&to=9999-12-31")]
    [InlineData("/follow-up?asOf=9999-12-31"), InlineData("/reports?from=0001-01-01&to=9999-12-31"), InlineData("/?period=0001-01")]
    public async Task A_page_asked_for_a_far_year_is_shown(string path)
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        using var answer = await client.GetAsync(path, IntakeBed.Ct);
        Assert.True((int)answer.StatusCode < 500, $"{path}: {answer.StatusCode}");
    }

    private static async Task<HttpClient> ClientAsync(IntakeBed bed)
    {
        await using var scope = bed.App.Services.CreateAsyncScope();
        var (_, secret) = await scope.ServiceProvider.GetRequiredService<SiteKeys>().IssueAsync(bed.Harbour, "test", IntakeBed.Ct);
        var client = bed.App.CreateClient();
        client.DefaultRequestHeaders.Authorization = new("Bearer", secret);
        return client;
    }
}
