using System.Net;
using System.Net.Http.Headers;
using System.Text;
using System.Text.Json.Nodes;
using Microsoft.Extensions.DependencyInjection;
using Registry.Access;
using Registry.Records;

namespace Registry.Tests.Intake.Receiving;

public sealed class SubmitRowsTests(TestDatabase database)
{
    private const string Sound = "kind,record_number,birth_date,sex\nbirth,1,2026-11-01,female\n";

    [Fact]
    public async Task Few_rows_are_answered_with_their_outcomes()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await ClientAsync(bed, bed.Harbour);
        var (status, body, headers) = await PostAsync(client, Sound + "birth,2,2026-13-01,female\n");
        Assert.Equal(HttpStatusCode.OK, status);
        Assert.Equal("done 2 1 1",
            $"{body["submission"]!["state"]} {body["submission"]!["rows"]} {body["submission"]!["accepted"]} "
            + $"{body["submission"]!["rejected"]}");
        Assert.Equal("""[{"field":"birth_date","reason":"is not a day of the calendar"}]""", body["rows"]![1]!["problems"]!.ToJsonString());
        Assert.Equal($"/api/v1/submissions/{body["submission"]!["id"]}", headers.Location!.ToString());
        Assert.Equal("done", (await GetAsync(client, headers.Location.ToString())).Body["state"]!.ToString());
        Assert.DoesNotContain("2026-13-01", body.ToJsonString(), StringComparison.Ordinal);
    }

    [Fact]
    public async Task Many_rows_are_accepted_at_once_and_followed()
    {
        await using var bed = await IntakeBed.StartAsync(database, new Dictionary<string, string?> { ["Intake:InlineRows"] = "10" });
        using var client = await ClientAsync(bed, bed.Harbour);
        var (status, body, headers) = await PostAsync(client, "record_number,birth_date,sex\n" + string.Concat(
            Enumerable.Range(1, 1_200).Select(i => $"{i},2026-11-01,female\n")), "?kind=birth");
        Assert.Equal(HttpStatusCode.Accepted, status);
        Assert.NotNull(headers.RetryAfter);
        Assert.Equal("received", body["submission"]!["state"]!.ToString());
        await bed.Process.RunAsync(Guid.Parse(body["submission"]!["id"]!.ToString()), IntakeBed.Ct);
        var follow = await GetAsync(client, headers.Location!.ToString());
        Assert.Equal("done 1200", $"{follow.Body["state"]} {follow.Body["accepted"]}");

        var rows = new List<int>();
        string? next = "";
        while (next is not null)
        {
            var page = (await GetAsync(
                client, $"{headers.Location}/rows?outcome=accepted{(next.Length > 0 ? $"&after={next}" : "")}")).Body;
            rows.AddRange(page["rows"]!.AsArray().Select(r => (int)r!["row"]!));
            next = page["next"]?.ToString();
        }

        Assert.Equal(Enumerable.Range(1, 1_200), rows);
        Assert.Empty((await GetAsync(client, $"{headers.Location}/rows?outcome=rejected")).Body["rows"]!.AsArray());
        Assert.Equal(HttpStatusCode.BadRequest, (await GetAsync(client, $"{headers.Location}/rows?after=nonsense")).Status);
        Assert.Equal(HttpStatusCode.BadRequest, (await GetAsync(client, $"{headers.Location}/rows?outcome=lost")).Status);
    }

    [Fact]
    public async Task Who_may_not_submit_is_refused_and_sees_nothing_of_others()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var nobody = bed.App.CreateClient();
        Assert.Equal(HttpStatusCode.Unauthorized, (await PostAsync(nobody, Sound)).Status);
        nobody.DefaultRequestHeaders.Authorization = new("Bearer", "reg_unknown-unknown-unknown");
        Assert.Equal(HttpStatusCode.Unauthorized, (await PostAsync(nobody, Sound)).Status);

        using var harbour = await ClientAsync(bed, bed.Harbour);
        using var hill = await ClientAsync(bed, bed.Hill);
        var (_, body, _) = await PostAsync(harbour, Sound);
        var (status, problem, _) = await PostAsync(hill, Sound, "?site=harbour");
        Assert.Equal(HttpStatusCode.Forbidden, status);
        Assert.Equal("site", problem["errors"]![0]!["field"]!.ToString());
        Assert.Equal(HttpStatusCode.NotFound, (await GetAsync(hill, $"/api/v1/submissions/{body["submission"]!["id"]}")).Status);
        Assert.Equal(HttpStatusCode.NotFound, (await GetAsync(hill, $"/api/v1/submissions/{body["submission"]!["id"]}/rows")).Status);
        Assert.Equal(1, await bed.CountAsync("submissions"));
    }

    [Fact]
    public async Task An_unreadable_file_is_told_as_problem_json_with_row_field_and_reason()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await ClientAsync(bed, bed.Harbour);
        var (status, body, headers) = await PostAsync(client, "kind,record_number,birth_dat,sex\nbirth,1,2026-11-01,female\nbirth,1\n");
        Assert.Equal(HttpStatusCode.BadRequest, status);
        Assert.Equal("application/problem+json", headers.ContentType);
        Assert.Equal("""[{"row":0,"field":"birth_dat","reason":"unknown column"},{"row":2,"field":null,"reason":"has 2 fields where the header has 4"}]""", body["errors"]!.ToJsonString());
        Assert.Equal("refused", (await GetAsync(client, body["submission"]!.ToString())).Body["state"]!.ToString());

        (status, body, _) = await PostAsync(client, """{"rows":[{"kind":"birth","record_number":"1"}""", type: "application/json");
        Assert.Equal(HttpStatusCode.BadRequest, status);
        Assert.Equal("""[{"row":1,"field":null,"reason":"the text ends before the JSON does"}]""", body["errors"]!.ToJsonString());
        Assert.Equal(0, await bed.CountAsync("infants"));
    }

    [Theory]
    [InlineData("text/html")]
    [InlineData("text/csv; charset=shift_jis")]
    [InlineData("application/json; charset=iso-8859-1")]
    [InlineData("application/xml")]
    public async Task Other_content_types_are_refused(string type)
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await ClientAsync(bed, bed.Harbour);
        var (status, body, _) = await PostAsync(client, Sound, type: type);
        Assert.Equal(HttpStatusCode.UnsupportedMediaType, status);
        Assert.Equal("Content-Type", body["errors"]![0]!["field"]!.ToString());
    }

    [Fact]
    public async Task A_repeated_request_gets_the_stored_result_and_another_body_is_refused()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await ClientAsync(bed, bed.Harbour);
        client.DefaultRequestHeaders.Add("Idempotency-Key", "day-42");
        var first = await PostAsync(client, Sound);
        var again = await PostAsync(client, Sound);
        Assert.Equal((HttpStatusCode.OK, first.Body.ToJsonString()), (again.Status, again.Body.ToJsonString()));
        Assert.Equal(HttpStatusCode.UnprocessableEntity, (await PostAsync(client, Sound + "birth,2,2026-11-02,male\n")).Status);
        client.DefaultRequestHeaders.Remove("Idempotency-Key");

        client.DefaultRequestHeaders.Add("Idempotency-Key", "broken");
        first = await PostAsync(client, "no,header\n1,2\n");
        again = await PostAsync(client, "no,header\n1,2\n");
        Assert.Equal((HttpStatusCode.BadRequest, first.Body["errors"]!.ToJsonString()),
            (again.Status, again.Body["errors"]!.ToJsonString()));
        Assert.Equal(2, await bed.CountAsync("submissions"));
    }

    [Fact]
    public async Task While_a_key_is_in_use_the_same_request_is_told_to_wait()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await ClientAsync(bed, bed.Harbour);
        client.DefaultRequestHeaders.Add("Idempotency-Key", "day-43");
        await using var other = await bed.Source.OpenConnectionAsync(IntakeBed.Ct);
        await using (var transaction = await other.BeginTransactionAsync(IntakeBed.Ct))
        {
            // As a request that is being received holds it.
            await using var hold = new Npgsql.NpgsqlCommand("select pg_advisory_xact_lock(hashtextextended($1, 7))", other);
            hold.Parameters.AddWithValue($"{bed.Harbour.Value:N}/day-43");
            await hold.ExecuteNonQueryAsync(IntakeBed.Ct);
            var (status, body, headers) = await PostAsync(client, Sound);
            Assert.Equal((HttpStatusCode.Conflict, "Idempotency-Key"), (status, body["errors"]![0]!["field"]!.ToString()));
            Assert.InRange(headers.RetryAfter!.Delta!.Value.TotalSeconds, 1, 60);
            Assert.Equal(0, await bed.CountAsync("submissions"));
        }

        Assert.Equal(HttpStatusCode.OK, (await PostAsync(client, Sound)).Status);
    }

    [Fact]
    public async Task Requests_that_are_wrong_in_themselves_store_nothing()
    {
        await using var bed = await IntakeBed.StartAsync(database, new Dictionary<string, string?> { ["Intake:MaxBytes"] = "1000" });
        using var client = await ClientAsync(bed, bed.Harbour);
        Assert.Equal(HttpStatusCode.BadRequest, (await PostAsync(client, Sound, "?kind=nothing")).Status);
        Assert.Equal(HttpStatusCode.RequestEntityTooLarge, (await PostAsync(client, Sound + new string('x', 5_000))).Status);
        Assert.Equal(0, await bed.CountAsync("submissions"));
    }

    [Fact]
    public async Task An_upload_cut_off_half_way_is_not_acknowledged_and_leaves_nothing()
    {
        await using var bed = await IntakeBed.StartAsync(database, listen: true);
        await using var scope = bed.App.Services.CreateAsyncScope();
        var (_, secret) = await scope.ServiceProvider.GetRequiredService<SiteKeys>().IssueAsync(bed.Harbour, "test", IntakeBed.Ct);
        var address = new Uri(bed.App.Address);
        using (var socket = new System.Net.Sockets.TcpClient())
        {
            await socket.ConnectAsync(address.Host, address.Port, IntakeBed.Ct);
            await using var stream = socket.GetStream();
            // 400 kB are announced, 330 kB sent: more than one piece is stored before the connection breaks.
            await stream.WriteAsync(Encoding.ASCII.GetBytes(
                $"POST /api/v1/submissions HTTP/1.1\r\nHost: {address.Authority}\r\nAuthorization: Bearer {secret}\r\nContent-Type: "
                    + $"text/csv\r\nContent-Length: 400000\r\n\r\n{Sound}"), IntakeBed.Ct);
            var rows = string.Concat(Enumerable.Range(2, 11_500).Select(i => $"birth,{i},2026-11-01,female\n"));
            await stream.WriteAsync(Encoding.ASCII.GetBytes(rows), IntakeBed.Ct);
            await stream.FlushAsync(IntakeBed.Ct);
            await Eventually.HoldsAsync(async () => await bed.CountAsync(
                "pg_stat_activity where datname = current_database() and query like 'insert into submission_chunks%'") > 0);
            socket.Client.LingerState = new(true, 0);
        }

        // The connection is gone; its transaction must end without a trace.
        await Eventually.HoldsAsync(async () => await bed.CountAsync(
            "pg_stat_activity where datname = current_database() and state like 'idle in%'") == 0);
        Assert.Equal(0, await bed.CountAsync("submission_chunks"));
        Assert.Equal(0, await bed.CountAsync("submissions"));
    }

    private static async Task<HttpClient> ClientAsync(IntakeBed bed, SiteId site)
    {
        await using var scope = bed.App.Services.CreateAsyncScope();
        var (_, secret) = await scope.ServiceProvider.GetRequiredService<SiteKeys>().IssueAsync(site, "test", IntakeBed.Ct);
        var client = bed.App.CreateClient();
        client.DefaultRequestHeaders.Authorization = new("Bearer", secret);
        return client;
    }

    private static async Task<(
        HttpStatusCode Status, JsonNode Body, (Uri? Location, RetryConditionHeaderValue? RetryAfter, string? ContentType))> PostAsync(
        HttpClient client, string text, string query = "", string type = "text/csv")
    {
        using var content = new ByteArrayContent(Encoding.UTF8.GetBytes(text));
        content.Headers.ContentType = MediaTypeHeaderValue.Parse(type);
        using var response = await client.PostAsync("/api/v1/submissions" + query, content, IntakeBed.Ct);
        return (response.StatusCode, JsonNode.Parse(await response.Content.ReadAsStringAsync(IntakeBed.Ct))!,
            (response.Headers.Location, response.Headers.RetryAfter, response.Content.Headers.ContentType?.MediaType));
    }

    private static async Task<(HttpStatusCode Status, JsonNode Body)> GetAsync(HttpClient client, string path)
    {
        using var response = await client.GetAsync(path, IntakeBed.Ct);
        return (response.StatusCode, JsonNode.Parse(await response.Content.ReadAsStringAsync(IntakeBed.Ct))!);
    }
}
