using System.Net;
using System.Net.Http.Json;
using System.Text;
using System.Text.Json;
using Microsoft.Extensions.DependencyInjection;
using Registry.Access;
using Registry.Records;
using Registry.Tests.Intake;
using Registry.Tests.Outreach;

namespace Registry.Tests.Access;

/// <summary>What a key opens, and until when.</summary>
public sealed class SiteKeysTests(TestDatabase database)
{
    private const string Row = "kind,record_number,birth_date,sex\nbirth,71,2026-11-01,female\n";

    [Theory]
    [InlineData("update sites set active = false")]
    [InlineData("update site_keys set expires_at = now() - interval '1 second'")]
    [InlineData("update site_keys set revoked_at = now()")]
    [InlineData("update site_keys set demonstration = true")]
    public async Task A_key_out_of_force_opens_nothing_from_the_next_request_on(string sql)
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await ClientAsync(bed, KeyScope.SendAndRead);
        Assert.Equal(HttpStatusCode.OK, (await SendAsync(client)).StatusCode);
        await bed.App.AsOwnerAsync(sql);
        using var refused = await SendAsync(client);
        Assert.Equal(HttpStatusCode.Unauthorized, refused.StatusCode);
        Assert.Equal(HttpStatusCode.Unauthorized, (await client.GetAsync("/fhir/Patient/x", IntakeBed.Ct)).StatusCode);
        Assert.Equal(1, await bed.CountAsync("submissions"));
    }

    [Fact]
    public async Task A_key_and_the_one_that_replaces_it_both_open_for_two_weeks_and_where_from_is_noted()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await using var scope = bed.App.Services.CreateAsyncScope();
        var keys = scope.ServiceProvider.GetRequiredService<SiteKeys>();
        var find = bed.App.Services.GetRequiredService<FindSiteKey>();
        var now = DateTimeOffset.UtcNow;
        var (old, oldSecret) = await keys.IssueAsync(bed.Harbour, "system", KeyScope.Send, now.AddDays(60), IntakeBed.Ct);
        var (_, secret) = (await keys.RotateAsync(old.Id, now.AddYears(1), IntakeBed.Ct))!.Value;
        Assert.NotNull(await find.ForAsync(oldSecret, "192.0.2.7"));
        Assert.Equal(KeyScope.Send, (await find.ForAsync(secret))!.Scope);
        Assert.Equal(["192.0.2.7"], await bed.ListAsync("select last_used_from from site_keys where id = $1", old.Id));
        Assert.Equal(["True"], await bed.ListAsync(
            "select expires_at between now() + interval '13 days' and now() + interval '14 days' from site_keys where id = $1", old.Id));
        Assert.Null(await keys.RotateAsync(old.Id, now.AddYears(1), IntakeBed.Ct)); // once
        await bed.ListAsync("update site_keys set expires_at = now() where id = $1 returning 1", old.Id);
        Assert.Null(await find.ForAsync(oldSecret));
        Assert.NotNull(await find.ForAsync(secret));
    }

    [Fact]
    public async Task People_are_told_once_of_a_key_that_runs_out()
    {
        await using var sink = new SmtpSink();
        await using var bed = await IntakeBed.StartAsync(database, RemindersTests.Smtp(sink));
        await bed.AddPersonAsync(Role.Administrator);
        await bed.ListAsync("update sites set contact_email = 'ward@harbour.example' where code = 'harbour' returning 1");
        await using var scope = bed.App.Services.CreateAsyncScope();
        var keys = scope.ServiceProvider.GetRequiredService<SiteKeys>();
        var (soon, _) = await keys.IssueAsync(bed.Harbour, "Ward system", KeyScope.Send, DateTimeOffset.UtcNow.AddDays(5), IntakeBed.Ct);
        await keys.IssueAsync(bed.Harbour, "later", KeyScope.Send, DateTimeOffset.UtcNow.AddDays(90), IntakeBed.Ct);
        var tell = scope.ServiceProvider.GetRequiredService<Registry.Accounts.TellOfExpiringKeys>();
        Assert.Equal("told of 1 of 1 keys that run out soon", await tell.RunAsync(IntakeBed.Ct));
        Assert.Equal("no key runs out soon", await tell.RunAsync(IntakeBed.Ct));
        Assert.Equal(2, sink.Received.Count);
        Assert.All(sink.Received, l => Assert.Contains(soon.Prefix, l.Message, StringComparison.Ordinal));
        Assert.Contains(sink.Received, l => l.To.Contains("ward@harbour.example", StringComparison.Ordinal));
    }

    [Fact]
    public async Task Without_a_mail_server_nobody_counts_as_told_of_a_key()
    {
        await using var bed = await IntakeBed.StartAsync(database,
            new Dictionary<string, string?> { ["Outreach:Folder"] = RegistryApp.NewOutbox() });
        await bed.AddPersonAsync(Role.Administrator);
        await using var scope = bed.App.Services.CreateAsyncScope();
        await scope.ServiceProvider.GetRequiredService<SiteKeys>().IssueAsync(
            bed.Harbour, "Ward system", KeyScope.Send, DateTimeOffset.UtcNow.AddDays(5), IntakeBed.Ct);
        Assert.StartsWith("no mail server is set", await scope.ServiceProvider.GetRequiredService<Registry.Accounts.TellOfExpiringKeys>()
            .RunAsync(IntakeBed.Ct), StringComparison.Ordinal);
        Assert.Equal(["0"], await bed.ListAsync("select count(told_at) from site_keys"));
    }

    [Theory]
    [InlineData(KeyScope.Send, HttpStatusCode.Forbidden, "; nothing else.", "FHIR")]
    [InlineData(KeyScope.SendAndRead, HttpStatusCode.OK, "read over FHIR the records its site may see; nothing else.", "\0")]
    public async Task Its_scope_is_honored_and_told_as_it_is(KeyScope scope, HttpStatusCode record, string says, string not)
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await ClientAsync(bed, scope);
        using var sent = await SendAsync(client);
        Assert.Equal(HttpStatusCode.OK, sent.StatusCode);
        // What became of its rows.
        var answer = await sent.Content.ReadFromJsonAsync<JsonElement>(IntakeBed.Ct);
        var status = answer.GetProperty("submission").GetProperty("id").GetString();
        Assert.Equal(HttpStatusCode.OK, (await client.GetAsync($"/api/v1/submissions/{status}/rows", IntakeBed.Ct)).StatusCode);
        Assert.Equal(HttpStatusCode.OK, (await client.GetAsync($"/api/v1/submissions/{status}/rejected", IntakeBed.Ct)).StatusCode);
        // A record, for who may read.
        var infant = (await bed.ListAsync("select id from infants"))[0];
        Assert.Equal(record, (await client.GetAsync($"/fhir/Patient/{infant}", IntakeBed.Ct)).StatusCode);
        // And nothing else, in words that are true.
        foreach (var path in new[] { "/infants", "/api/v1/measures", "/api/v1/export/facts", "/access/keys", "/operations" })
        {
            using var refused = await client.GetAsync(path, IntakeBed.Ct);
            Assert.Equal(HttpStatusCode.Forbidden, refused.StatusCode);
            var text = await refused.Content.ReadAsStringAsync(IntakeBed.Ct);
            Assert.Contains(says, text, StringComparison.Ordinal);
            Assert.DoesNotContain(not, text, StringComparison.Ordinal);
        }
    }

    [Fact]
    public async Task An_administrator_issues_a_key_with_scope_and_end_and_no_coordinator_does()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var administrator = await SignedIn.AsAsync(bed, Role.Administrator, null);
        using var issued = await SessionsTests.PostAsync(administrator, "/access/keys", "",
            ("Site", "harbour"), ("Name", "ward"), ("Scope", "Send"), ("Until", "2027-01-31"));
        Assert.Contains("reg_", await issued.Content.ReadAsStringAsync(IntakeBed.Ct), StringComparison.Ordinal);
        Assert.Equal(["ward send 2027-02-01"], await bed.ListAsync(
            "select concat_ws(' ', name, scope, to_char(expires_at at time zone 'utc', 'YYYY-MM-DD')) from site_keys"));
        using var past = await SessionsTests.PostAsync(administrator, "/access/keys", "",
            ("Site", "harbour"), ("Name", "late"), ("Scope", "Send"), ("Until", "2026-11-25"));
        Assert.Equal(1, await bed.CountAsync("site_keys"));
    }

    private static async Task<HttpClient> ClientAsync(IntakeBed bed, KeyScope scope)
    {
        await using var scoped = bed.App.Services.CreateAsyncScope();
        var (_, secret) = await scoped.ServiceProvider.GetRequiredService<SiteKeys>()
            .IssueAsync(bed.Harbour, "ward", scope, bed.Now.AddYears(1), IntakeBed.Ct);
        var client = SignedIn.Nobody(bed);
        client.DefaultRequestHeaders.Authorization = new("Bearer", secret);
        return client;
    }

    private static async Task<HttpResponseMessage> SendAsync(HttpClient client)
    {
        using var body = new StringContent(Row, Encoding.UTF8, "text/csv");
        return await client.PostAsync("/api/v1/submissions", body, IntakeBed.Ct);
    }
}
