using System.Net;
using System.Net.Http.Headers;
using System.Text;
using Microsoft.Extensions.DependencyInjection;
using Npgsql;
using Registry.Intake;
using Registry.Tests.Intake.Formats.Hl7V2;
using Registry.Tests.Platform;

namespace Registry.Tests.Intake.Receiving;

/// <summary>While the database does not answer, every interface says 503 and when to come again, and nothing is acknowledged that is not
/// committed.</summary>
public sealed class OutageTests(TestDatabase database)
{
    private const string Csv = "kind,record_number,birth_date,sex\nbirth,71,2026-11-01,female\n";
    private const string Patient =
        """
        {"resourceType":"Patient","birthDate":"2026-11-20","gender":"female","identifier":[{"system":"urn:x-test","value":"71",
         "type":{"coding":[{"system":"http://terminology.hl7.org/CodeSystem/v2-0203","code":"MR"}]}}]}
        """;

    public static readonly TheoryData<string> Doors = ["csv", "fhir", "hl7"];

    [Theory]
    [MemberData(nameof(Doors))]
    public async Task A_request_whose_connection_the_server_ends_stores_nothing_and_is_taken_in_later(string door)
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await bed.ClientAsync(bed.Harbour);
        using (var refused = await SendDuringAsync(bed, client, door, "submission_chunks"))
        {
            await AssertComesAgainAsync(refused, door == "hl7" ? "application/hl7-v2" : MediaTypeOf(door));
            if (door == "hl7")
                Assert.Contains("MSA|AR|A-1", await refused.Content.ReadAsStringAsync(IntakeBed.Ct), StringComparison.Ordinal);
        }

        Assert.Equal(0, await bed.CountAsync("submissions"));
        using var taken = await SendAsync(client, door);
        Assert.True(taken.IsSuccessStatusCode, await taken.Content.ReadAsStringAsync(IntakeBed.Ct));
        Assert.Equal((1, 1), (await bed.CountAsync("submissions where state = 'done'"), await bed.CountAsync("infants")));
    }

    [Theory]
    [MemberData(nameof(Doors))]
    public async Task What_was_stored_before_the_server_ended_the_connection_is_kept_and_worked_through_later(string door)
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await bed.ClientAsync(bed.Harbour);
        using (var kept = await SendDuringAsync(bed, client, door, "submission_rows"))
        {
            await AssertComesAgainAsync(kept, MediaTypeOf(door));
            if (door != "fhir")
                Assert.Contains("\"submission\":\"/api/v1/submissions/", await kept.Content.ReadAsStringAsync(IntakeBed.Ct),
                    StringComparison.Ordinal);
        }

        Assert.Equal((1, 0), (await bed.CountAsync("submissions where state <> 'done'"), await bed.CountAsync("infants")));
        await bed.App.Services.GetRequiredService<SweepSubmissions>().RunAsync(IntakeBed.Ct);
        Assert.Equal((1, 1), (await bed.CountAsync("submissions where state = 'done'"), await bed.CountAsync("infants")));
    }

    [Fact]
    public async Task Without_a_server_the_interfaces_answer_503_whatever_is_asked()
    {
        Assert.SkipUnless(OperatingSystem.IsLinux(), "sends signals");
        await using var folder = new ProgramFolder();
        using var program = await ProgramProcess.StartAsync(folder, IntakeBed.Ct);
        using var client = new HttpClient { BaseAddress = new(program.Address) };
        client.DefaultRequestHeaders.Authorization = new("Bearer", await ProgramProcess.AddSiteAsync(folder, IntakeBed.Ct));
        using (var before = await SendAsync(client, "csv")) Assert.Equal(HttpStatusCode.OK, before.StatusCode);
        await ProgramProcess.KillPostgresAsync(folder, IntakeBed.Ct);
        foreach (var door in new[] { "csv", "fhir" })
        {
            using var refused = await SendAsync(client, door);
            await AssertComesAgainAsync(refused, MediaTypeOf(door));
        }

        using var status = await client.GetAsync($"/api/v1/submissions/{Guid.CreateVersion7()}", IntakeBed.Ct);
        await AssertComesAgainAsync(status, "application/problem+json");
        // And to people, by a page that needs no database.
        foreach (var page in new[] { "/follow-up", "/infants", "/access/own", "/" })
        {
            using var asked = new HttpRequestMessage(HttpMethod.Get, page);
            asked.Headers.Add("Cookie", "registry-session=" + new string('a', 43));
            using var anonymous = new HttpClient { BaseAddress = client.BaseAddress };
            using var shown = await anonymous.SendAsync(asked, IntakeBed.Ct);
            await AssertComesAgainAsync(shown, "text/html");
        }

        using var record = await client.GetAsync($"/fhir/Patient/{Guid.CreateVersion7()}", IntakeBed.Ct);
        await AssertComesAgainAsync(record, "application/fhir+json");
    }

    /// <summary>The server ends every connection that works on the table, as it does when it is shut down, until the request is
    /// answered.</summary>
    private static async Task<HttpResponseMessage> SendDuringAsync(IntakeBed bed, HttpClient client, string door, string table)
    {
        await using var server = await bed.Source.OpenConnectionAsync(IntakeBed.Ct);
        await using var transaction = await server.BeginTransactionAsync(IntakeBed.Ct);
        await ExecuteAsync($"lock table {table} in access exclusive mode");
        var answer = SendAsync(client, door);
        while (!answer.IsCompleted)
        {
            // Not pg_stat_activity: a transaction sees that as it was when it first looked.
            await ExecuteAsync($"select pg_terminate_backend(pid) from pg_locks where relation = '{table}'::regclass and not granted");
            await Task.WhenAny(answer, Task.Delay(20, IntakeBed.Ct));
        }

        return await answer;

        async Task ExecuteAsync(string sql)
        {
            await using var command = new NpgsqlCommand(sql, server);
            await command.ExecuteNonQueryAsync(IntakeBed.Ct);
        }
    }

    private static async Task<HttpResponseMessage> SendAsync(HttpClient client, string door)
    {
        var (path, type, text) = door switch
        {
            "csv" => ("/api/v1/submissions", "text/csv", Csv),
            "hl7" => ("/api/v1/submissions", "application/hl7-v2", Messages.Admission()),
            _ => ("/fhir/Patient", "application/fhir+json", Patient),
        };
        using var content = new ByteArrayContent(Encoding.UTF8.GetBytes(text));
        content.Headers.ContentType = new MediaTypeHeaderValue(type);
        return await client.PostAsync(path, content, IntakeBed.Ct);
    }

    private static string MediaTypeOf(string door) => door == "fhir" ? "application/fhir+json" : "application/problem+json";

    private static async Task AssertComesAgainAsync(HttpResponseMessage answer, string type)
    {
        var said = await answer.Content.ReadAsStringAsync(IntakeBed.Ct);
        Assert.True(answer.StatusCode == HttpStatusCode.ServiceUnavailable, $"{answer.StatusCode}: {said}");
        Assert.InRange(answer.Headers.RetryAfter!.Delta!.Value.TotalSeconds, 1, 60);
        Assert.Equal(type, answer.Content.Headers.ContentType!.MediaType);
        if (type == "application/fhir+json") Assert.Contains("\"code\":\"transient\"", said, StringComparison.Ordinal);
    }
}
