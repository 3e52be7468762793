using System.Net;
using System.Net.Http.Headers;
using System.Net.Sockets;
using System.Text;
using Microsoft.Extensions.DependencyInjection;
using Registry.Access;

namespace Registry.Tests.Intake;

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
        using var look = await client.GetAsync($"/api/v1/submissions/{(await bed.ListAsync("select id from submissions limit 1"))[0]}", IntakeBed.Ct);
        Assert.Equal(HttpStatusCode.OK, look.StatusCode);
    }

    [Fact]
    public async Task Of_many_at_once_some_wait_and_the_rest_are_refused_before_their_bodies_are_read()
    {
        await using var bed = await IntakeBed.StartAsync(database, new Dictionary<string, string?> { ["Intake:AtOncePerSender"] = "2" }, listen: true);
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
        foreach (var (client, _) in open) await client.GetStream().WriteAsync(Encoding.ASCII.GetBytes(new string('\n', Announced - Begun)), IntakeBed.Ct);
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
        await using var bed = await IntakeBed.StartAsync(database, new Dictionary<string, string?> { ["Intake:ReceiveSeconds"] = "1" }, listen: true);
        using var slow = await BeginAsync(bed, await SecretAsync(bed, bed.Harbour));
        Assert.StartsWith("HTTP/1.1 408", await AnswerAsync(slow), StringComparison.Ordinal);
        for (var i = 0; i < 100 && await bed.CountAsync("pg_stat_activity where datname = current_database() and state like 'idle in%'") > 0; i++) await Task.Delay(20, IntakeBed.Ct);
        Assert.Equal(0, await bed.CountAsync("submissions") + await bed.CountAsync("submission_chunks"));
    }

    [Fact]
    public async Task Depth_width_rows_and_values_have_limits()
    {
        await using var bed = await IntakeBed.StartAsync(database, new Dictionary<string, string?> { ["Intake:MaxRows"] = "3" });
        using var client = await bed.ClientAsync(bed.Harbour);
        async Task<string> JsonAsync(string text) => (await client.SendAsync(Encoding.UTF8.GetBytes(text), "", "application/json")).Body.Reason();
        Assert.Equal("must be a text, a number, true, false or null", await JsonAsync("{\"rows\":[{\"kind\":" + new string('[', 100_000)));
        Assert.Equal("must be an array", await JsonAsync("{\"rows\":" + string.Concat(Enumerable.Repeat("{\"rows\":", 100_000))));
        Assert.Contains("longer than 65536 bytes", await JsonAsync("{\"rows\":[{\"kind\":\"" + new string('x', 200_000) + "\"}]}"), StringComparison.Ordinal);
        var (_, body, _) = await client.SendAsync(Encoding.UTF8.GetBytes(Sound + string.Concat(Enumerable.Range(2, 3).Select(i => $"birth,{i},2026-11-01,female\n"))));
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

    /// <summary>Announces a body larger than what is committed together, and sends its beginning.</summary>
    private static async Task<TcpClient> BeginAsync(IntakeBed bed, string secret)
    {
        var address = new Uri(bed.App.Address);
        var client = new TcpClient();
        await client.ConnectAsync(address.Host, address.Port, IntakeBed.Ct);
        await client.GetStream().WriteAsync(Encoding.ASCII.GetBytes(
            $"POST /api/v1/submissions HTTP/1.1\r\nHost: {address.Authority}\r\nAuthorization: Bearer {secret}\r\nContent-Type: text/csv\r\nContent-Length: {Announced}\r\n\r\n{Sound}{new string('\n', Begun - Sound.Length)}"), IntakeBed.Ct);
        return client;
    }

    private static async Task<string> AnswerAsync(TcpClient client)
    {
        var buffer = new byte[200];
        return Encoding.ASCII.GetString(buffer, 0, await client.GetStream().ReadAsync(buffer, IntakeBed.Ct));
    }
}
