using System.Net;
using System.Net.Http.Headers;
using System.Net.Sockets;
using System.Text;
using Microsoft.Extensions.DependencyInjection;
using Registry.Access;
using Registry.Records;

namespace Registry.Tests.Intake.Receiving;

/// <summary>What a sender can do at most, and what it is told beyond that.</summary>
public sealed class LimitsTests(TestDatabase database)
{
    private const string Sound = "kind,record_number,birth_date,sex\nbirth,1,2026-11-01,female\n";

    [Fact]
    public async Task A_sender_is_told_what_it_may_still_send_and_another_is_not_held_up()
    {
        await using var bed = await IntakeBed.StartAsync(database, new Dictionary<string, string?> { ["Intake:RequestsPerMinute"] = "3" });
        using var client = await bed.ClientAsync(bed.Harbour);
        using var other = await bed.ClientAsync(bed.Hill);
        var left = new List<string>();
        for (var i = 0; i < 3; i++)
        {
            var (status, _, headers) = await client.SendAsync(Encoding.UTF8.GetBytes(Sound));
            Assert.Equal(HttpStatusCode.OK, status);
            Assert.Equal("\"requests\";q=3;w=60", headers.GetValues("RateLimit-Policy").Single());
            left.Add(headers.GetValues("RateLimit").Single());
        }

        Assert.Equal(["\"requests\";r=2;t=60", "\"requests\";r=1;t=60", "\"requests\";r=0;t=60"], left);
        var (refused, body, told) = await client.SendAsync(Encoding.UTF8.GetBytes(Sound));
        Assert.Equal((HttpStatusCode.TooManyRequests, "Too much is being sent at once"), (refused, body["title"]!.ToString()));
        Assert.InRange(told.RetryAfter!.Delta!.Value.TotalSeconds, 1, 60);
        Assert.Equal(3, await bed.CountAsync("submissions"));
        Assert.Equal(HttpStatusCode.OK, (await other.SendAsync(Encoding.UTF8.GetBytes(Sound))).Status);
        // Looking is not sending.
        using var look = await client.GetAsync($"/api/v1/submissions/{(await bed.ListAsync("select id from submissions limit 1"))[0]}",
            IntakeBed.Ct);
        Assert.Equal(HttpStatusCode.OK, look.StatusCode);
    }

    [Fact]
    public async Task Of_many_at_once_some_wait_and_the_rest_are_refused_before_their_bodies_are_read()
    {
        await using var bed = await IntakeBed.StartAsync(database, new Dictionary<string, string?> { ["Intake:AtOncePerSender"] = "2" },
            listen: true);
        var secret = await SecretAsync(bed, bed.Harbour);
        // Two bodies on their way, two that wait, and one too many.
        var open = new List<(TcpClient Client, Task<string> Answer)>();
        for (var i = 0; i < 5; i++)
        {
            var client = await BeginAsync(bed, secret);
            open.Add((client, AnswerAsync(client)));
        }

        var first = await Task.WhenAny(open.Select(o => o.Answer));
        Assert.StartsWith("HTTP/1.1 429", await first, StringComparison.Ordinal);
        open.RemoveAll(o => o.Answer == first);

        // Another sender is served meanwhile.
        using var other = new HttpClient { BaseAddress = new(bed.App.Address) };
        other.DefaultRequestHeaders.Authorization = new AuthenticationHeaderValue("Bearer", await SecretAsync(bed, bed.Hill));
        Assert.Equal(HttpStatusCode.OK, (await other.SendAsync(Encoding.UTF8.GetBytes(Sound))).Status);
        Assert.DoesNotContain(open, o => o.Answer.IsCompleted);

        // Which of them are worked on and which wait is theirs to settle: all are finished, then all are answered.
        foreach (var (client, _) in open)
            await client.GetStream().WriteAsync(Encoding.ASCII.GetBytes(new string('\n', Announced - Begun)), IntakeBed.Ct);
        foreach (var (client, answer) in open)
        {
            Assert.StartsWith("HTTP/1.1 200", await answer, StringComparison.Ordinal);
            client.Dispose();
        }

        Assert.Equal(5, await bed.CountAsync("submissions"));
    }

    [Fact]
    public async Task A_body_that_takes_too_long_is_given_up_and_leaves_nothing()
    {
        await using var bed = await IntakeBed.StartAsync(database, new Dictionary<string, string?> { ["Intake:ReceiveSeconds"] = "1" },
            listen: true);
        using var slow = await BeginAsync(bed, await SecretAsync(bed, bed.Harbour));
        Assert.StartsWith("HTTP/1.1 408", await AnswerAsync(slow), StringComparison.Ordinal);
        await Eventually.HoldsAsync(async () => await bed.CountAsync(
            "pg_stat_activity where datname = current_database() and state like 'idle in%'") == 0);
        Assert.Equal(0, await bed.CountAsync("submissions") + await bed.CountAsync("submission_chunks"));
    }

    [Fact]
    public async Task Larger_bodies_have_a_limit_of_their_own_and_small_ones_pass_them()
    {
        await using var bed = await IntakeBed.StartAsync(
            database, new Dictionary<string, string?> { ["Intake:LargeAtOncePerSender"] = "1", ["Intake:LargeAtOnce"] = "1" },
            listen: true);
        var secret = await SecretAsync(bed, bed.Harbour);
        var slow = new List<(TcpClient Client, Task<string> Answer)>();
        for (var i = 0; i < 4; i++)
        {
            var client = await BeginAsync(bed, secret);
            slow.Add((client, AnswerAsync(client)));
        }

        var refused = await (await Task.WhenAny(slow.Select(o => o.Answer)));
        Assert.StartsWith("HTTP/1.1 429", refused, StringComparison.Ordinal);
        Assert.Matches("Retry-After: [1-9]", refused);
        // Slow senders of much hold up neither their own small requests nor anybody's.
        using var small = new HttpClient { BaseAddress = new(bed.App.Address) };
        small.DefaultRequestHeaders.Authorization = new AuthenticationHeaderValue("Bearer", secret);
        Assert.Equal(HttpStatusCode.OK, (await small.SendAsync(Encoding.UTF8.GetBytes(Sound))).Status);
        foreach (var (client, _) in slow) client.Dispose();
    }

    [Fact]
    public async Task A_slow_small_body_holds_no_connection_to_the_database()
    {
        await using var bed = await IntakeBed.StartAsync(database, listen: true);
        await bed.App.AsOwnerAsync(
            """
            create table began (at timestamptz);
            grant select, insert, delete on began to public;
            create function began() returns trigger language plpgsql as $$ begin insert into began values (now()); return new; end $$;
            create trigger began before insert on submissions for each row execute function began();
            """);
        var secret = await SecretAsync(bed, bed.Harbour);
        const int announced = 20_000;
        using var slow = await BeginAsync(bed, secret, announced: announced, begun: 10_000);
        // One that comes later is served from beginning to end meanwhile.
        using var other = new HttpClient { BaseAddress = new(bed.App.Address) };
        other.DefaultRequestHeaders.Authorization = new AuthenticationHeaderValue("Bearer", await SecretAsync(bed, bed.Hill));
        Assert.Equal(HttpStatusCode.OK, (await other.SendAsync(Encoding.UTF8.GetBytes(Sound))).Status);
        Assert.Equal(0, await bed.CountAsync("pg_stat_activity where datname = current_database() and state like 'idle in%'"));

        // The transaction that stores it begins when all of it is here.
        await bed.ListAsync("delete from began");
        var before = (await bed.ListAsync("select clock_timestamp()::text"))[0];
        await slow.GetStream().WriteAsync(Encoding.ASCII.GetBytes(new string('\n', announced - 10_000)), IntakeBed.Ct);
        Assert.StartsWith("HTTP/1.1 200", await AnswerAsync(slow), StringComparison.Ordinal);
        Assert.Equal(["True"], await bed.ListAsync($"select at > '{before}' from began"));
    }

    [Theory]
    [InlineData("/api/v1/submissions?dry_run=true", "application/problem+json")]
    [InlineData("/submissions/new?handler=try", "text/html; charset=utf-8")]
    [InlineData("/submissions/new?handler=TRY", "text/html; charset=utf-8")]
    public async Task Dry_runs_are_counted_however_they_are_asked_for_and_the_refusal_can_be_read(string path, string type)
    {
        await using var bed = await IntakeBed.StartAsync(database, new Dictionary<string, string?> { ["Intake:DryRunsAtOnce"] = "1" },
            listen: true);
        var secret = await SecretAsync(bed, bed.Harbour);
        // One on its way, two that wait; the one too many tells that the others have come.
        var open = new List<(TcpClient Client, Task<string> Answer)>();
        for (var i = 0; i < 4; i++)
        {
            var client = await BeginAsync(bed, secret, "/api/v1/submissions?dry_run=true");
            open.Add((client, AnswerAsync(client)));
        }

        Assert.StartsWith("HTTP/1.1 429", await await Task.WhenAny(open.Select(o => o.Answer)), StringComparison.Ordinal);
        var (person, _) = await SignInAsync(bed);
        using var request = new HttpRequestMessage(HttpMethod.Post, path) { Content = new StringContent(Sound, Encoding.UTF8, "text/csv") };
        request.Headers.Add("Sec-Fetch-Site", "same-origin"); // as a browser says on the registry's own page
        using var answer = await person.SendAsync(request, IntakeBed.Ct);
        Assert.Equal((HttpStatusCode.TooManyRequests, type), (answer.StatusCode, answer.Content.Headers.ContentType!.ToString()));
        Assert.InRange(answer.Headers.RetryAfter!.Delta!.Value.TotalSeconds, 1, 60);
        Assert.Contains("Too much is being sent at once", await answer.Content.ReadAsStringAsync(IntakeBed.Ct), StringComparison.Ordinal);
        person.Dispose();
        open.ForEach(o => o.Client.Dispose());
    }

    [Fact]
    public async Task Beyond_the_limits_the_fhir_interface_answers_in_its_own_words()
    {
        await using var bed = await IntakeBed.StartAsync(database, new Dictionary<string, string?> { ["Intake:RequestsPerMinute"] = "1" });
        using var client = await bed.ClientAsync(bed.Harbour);
        await client.PostAsync("/fhir", new StringContent("{}", Encoding.UTF8, "application/fhir+json"), IntakeBed.Ct);
        using var answer = await client.PostAsync("/fhir", new StringContent("{}", Encoding.UTF8, "application/fhir+json"), IntakeBed.Ct);
        Assert.Equal(HttpStatusCode.TooManyRequests, answer.StatusCode);
        Assert.InRange(answer.Headers.RetryAfter!.Delta!.Value.TotalSeconds, 1, 60);
        // HL7 FHIR R4, value set issue-type: throttled.
        var outcome = (Hl7.Fhir.Model.OperationOutcome)await Registry.Tests.Fhir.FhirBed.ReadAsync(answer);
        Assert.Equal(Hl7.Fhir.Model.OperationOutcome.IssueType.Throttled, outcome.Issue.Single().Code);
    }

    [Theory]
    [InlineData("/fhir", "application/fhir+json", "OperationOutcome")]
    [InlineData("/submissions/new", "multipart/form-data; boundary=x", "That took too long")]
    public async Task Other_bodies_must_arrive_in_time_as_well(string path, string type, string says)
    {
        await using var bed = await IntakeBed.StartAsync(database, new Dictionary<string, string?> { ["Intake:ReceiveSeconds"] = "1" },
            listen: true);
        string credential;
        if (path == "/fhir") credential = $"Authorization: Bearer {await SecretAsync(bed, bed.Harbour)}";
        else
        {
            var (person, cookies) = await SignInAsync(bed);
            person.Dispose();
            credential = "Cookie: " + cookies.GetCookieHeader(new Uri(bed.App.Address));
        }

        var address = new Uri(bed.App.Address);
        using var slow = new TcpClient();
        await slow.ConnectAsync(address.Host, address.Port, IntakeBed.Ct);
        await slow.GetStream()
            .WriteAsync(Encoding.ASCII.GetBytes(
            $"POST {path} HTTP/1.1\r\nHost: {address.Authority}\r\n{credential}\r\nContent-Type: {type}\r\nContent-Length: "
            + $"{Announced}\r\n\r\n--x\r\nContent-Disposition: form-data; name=\"Upload.File\"; "
            + "filename=\"a.csv\"\r\n\r\n{new string('x', Begun)}"), IntakeBed.Ct);
        using var reader = new StreamReader(slow.GetStream());
        var answer = new StringBuilder();
        while (!answer.ToString().Contains(says, StringComparison.Ordinal) && await reader.ReadLineAsync(IntakeBed.Ct) is { } line)
            answer.AppendLine(line);
        Assert.StartsWith("HTTP/1.1 408", answer.ToString(), StringComparison.Ordinal);
        Assert.True(answer.ToString().Contains(says, StringComparison.Ordinal), answer.ToString());
    }

    [Fact]
    public async Task Depth_width_rows_and_values_have_limits()
    {
        await using var bed = await IntakeBed.StartAsync(database, new Dictionary<string, string?> { ["Intake:MaxRows"] = "3" });
        using var client = await bed.ClientAsync(bed.Harbour);
        async Task<string> JsonAsync(string text) =>
            (await client.SendAsync(Encoding.UTF8.GetBytes(text), "", "application/json")).Body.Reason();
        Assert.Equal("must be a text, a number, true, false or null", await JsonAsync("{\"rows\":[{\"kind\":" + new string('[', 100_000)));
        Assert.Equal("must be an array", await JsonAsync("{\"rows\":" + string.Concat(Enumerable.Repeat("{\"rows\":", 100_000))));
        Assert.Contains("longer than 65536 bytes", await JsonAsync("{\"rows\":[{\"kind\":\"" + new string('x', 200_000) + "\"}]}"),
            StringComparison.Ordinal);
        var (_, body, _) = await client.SendAsync(
            Encoding.UTF8.GetBytes(Sound + string.Concat(Enumerable.Range(2, 3).Select(i => $"birth,{i},2026-11-01,female\n"))));
        Assert.Equal("the file has 4 rows; send at most 3 at once", body.Reason());
        (_, body, _) = await client.SendAsync(Encoding.UTF8.GetBytes(string.Join(',', Enumerable.Range(0, 20_000)) + "\n1\n"));
        Assert.Contains("longer than 65536 bytes", body.Reason(), StringComparison.Ordinal);
        Assert.Equal(0, await bed.CountAsync("infants"));
    }

    private const int Announced = 40_000;

    /// <summary>Enough that the server does not take the sender for one that trickles (240 bytes a second after 5 s).</summary>
    private const int Begun = 30_000;

    private static async Task<string> SecretAsync(IntakeBed bed, Registry.Records.SiteId site)
    {
        await using var scope = bed.App.Services.CreateAsyncScope();
        return (await scope.ServiceProvider.GetRequiredService<SiteKeys>().IssueAsync(site, "test", IntakeBed.Ct)).Secret;
    }

    /// <summary>Somebody of the site in a browser, over the loopback port.</summary>
    private static async Task<(HttpClient Client, CookieContainer Cookies)> SignInAsync(IntakeBed bed)
    {
        var cookies = new CookieContainer();
        var client = new HttpClient(
            new HttpClientHandler { CookieContainer = cookies, AllowAutoRedirect = false })
        { BaseAddress = new(bed.App.Address) };
        using var answer = await SignedIn.PostAsync(
            client, await bed.AddPersonAsync(Role.Screener, bed.Harbour), IntakeBed.Password);
        return (client, cookies);
    }

    /// <summary>Announces a body larger than what is committed together, and sends its beginning.</summary>
    private static async Task<TcpClient> BeginAsync(
        IntakeBed bed, string secret, string path = "/api/v1/submissions", string type = "text/csv", int announced = Announced,
        int begun = Begun)
    {
        var address = new Uri(bed.App.Address);
        var client = new TcpClient();
        await client.ConnectAsync(address.Host, address.Port, IntakeBed.Ct);
        await client.GetStream().WriteAsync(Encoding.ASCII.GetBytes(
            $"POST {path} HTTP/1.1\r\nHost: {address.Authority}\r\nAuthorization: Bearer {secret}\r\nContent-Type: "
                + $"{type}\r\nContent-Length: {announced}\r\n\r\n{Sound}{new string('\n', begun - Sound.Length)}"), IntakeBed.Ct);
        return client;
    }

    private static async Task<string> AnswerAsync(TcpClient client)
    {
        var buffer = new byte[2_000];
        return Encoding.ASCII.GetString(buffer, 0, await client.GetStream().ReadAsync(buffer, IntakeBed.Ct));
    }
}
