using System.Net;
using Microsoft.EntityFrameworkCore;
using Microsoft.Extensions.DependencyInjection;
using Registry.Records;
using Registry.Tests.Intake;

namespace Registry.Tests.Access;

/// <summary>What a cookie is worth: the person behind it, as the database has them now, in this installation, for a while.</summary>
public sealed class SessionsTests(TestDatabase database)
{
    private const string Page = "/follow-up";

    [Fact]
    public async Task A_cookie_of_another_installation_opens_nothing_there()
    {
        await using var one = await IntakeBed.StartAsync(database);
        await using var other = await OtherInstallationAsync(one);
        var cookie = await CookieAsync(one, await one.AddPersonAsync(Role.Coordinator));
        Assert.Equal(HttpStatusCode.OK, await AskAsync(one, cookie));
        Assert.Equal(HttpStatusCode.Redirect, await AskAsync(other, cookie));
    }

    [Fact]
    public async Task A_token_of_a_form_of_another_installation_is_refused_with_the_same_keys()
    {
        await using var one = await IntakeBed.StartAsync(database);
        using var client = SignedIn.Nobody(one);
        var token = await SignedIn.TokenAsync(client, "/sign-in"); // makes the keys
        var cookie = (await client.GetAsync("/sign-in", IntakeBed.Ct)).RequestMessage!.Headers.GetValues("Cookie").Single();
        await using var other = await OtherInstallationAsync(one);
        await other.App.AsOwnerAsync("delete from form_keys");
        await using (var db = other.App.OpenDb())
        {
            await using var mine = one.App.OpenDb();
            db.DataProtectionKeys.AddRange(await mine.DataProtectionKeys.AsNoTracking().ToListAsync(IntakeBed.Ct));
            await db.SaveChangesAsync(IntakeBed.Ct);
        }

        Assert.Equal(HttpStatusCode.OK, await SendAsync(one.App.Logins.Owner!)); // another node of the same: wrong password
        Assert.Equal(HttpStatusCode.BadRequest, await SendAsync(other.App.Logins.Owner!));

        async Task<HttpStatusCode> SendAsync(string to)
        {
            await using var node = RegistryApp.On(to, new Dictionary<string, string?> { ["Access:AllowHttp"] = "true" });
            using var http = new HttpClient(node.Server.CreateHandler()) { BaseAddress = node.ClientOptions.BaseAddress };
            http.DefaultRequestHeaders.Add("Cookie", cookie);
            using var form = new FormUrlEncodedContent(
                [new("Email", "nobody@example.test"), new("Password", "wrong"), new("__RequestVerificationToken", token)]);
            using var answer = await http.PostAsync("/sign-in", form, IntakeBed.Ct);
            return answer.StatusCode;
        }
    }

    [Fact]
    public async Task Signing_out_ends_the_session_wherever_its_cookie_is_held()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var stolen = (await client.GetAsync(Page, IntakeBed.Ct)).RequestMessage!.Headers.GetValues("Cookie").Single();
        Assert.Equal(HttpStatusCode.OK, await AskAsync(bed, stolen));

        using var form = new FormUrlEncodedContent([new("__RequestVerificationToken", await SignedIn.TokenAsync(client, Page))]);
        var left = await client.PostAsync("/sign-out", form, IntakeBed.Ct);
        Assert.Equal("/sign-out", left.Headers.Location!.OriginalString);
        Assert.Contains("cookies", left.Headers.GetValues("Clear-Site-Data").Single(), StringComparison.Ordinal);
        Assert.Equal(HttpStatusCode.Redirect, await AskAsync(bed, stolen));
    }

    [Theory]
    [InlineData("update sessions set opened_at = opened_at - interval '12 hours 1 second'")] // seen a moment ago all the same
    [InlineData("update sessions set seen_at = seen_at - interval '31 minutes'")]
    [InlineData("update sessions set ended_at = now()")]
    [InlineData("update people set disabled_at = now()")]
    [InlineData("update people set demonstration = true")]
    [InlineData("update sessions set token_sha256 = sha256('another'::bytea)")]
    public async Task A_session_over_or_of_somebody_who_may_no_more_opens_nothing(string sql)
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        Assert.Equal(HttpStatusCode.OK, (await client.GetAsync(Page, IntakeBed.Ct)).StatusCode);
        await bed.ListAsync(sql + " returning 1");
        Assert.Equal("/sign-in", (await client.GetAsync(Page, IntakeBed.Ct)).Headers.Location!.AbsolutePath);
    }

    [Fact]
    public async Task How_long_a_session_may_lie_idle_is_the_policy_s_choice()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.DecidePolicyAsync(p => p with { SessionIdleMinutes = 5 });
        var person = await bed.AddPersonAsync(Role.Coordinator);
        var (idle, used) = (SignedIn.Nobody(bed), SignedIn.Nobody(bed));
        foreach (var client in new[] { idle, used }) await SignedIn.PostAsync(client, person, IntakeBed.Password);
        await bed.ListAsync("update sessions set seen_at = seen_at - interval '6 minutes' "
            + "where id = (select id from sessions order by opened_at, id limit 1) returning 1");
        Assert.Equal("/sign-in", (await idle.GetAsync(Page, IntakeBed.Ct)).Headers.Location!.AbsolutePath);
        Assert.Equal(HttpStatusCode.OK, (await used.GetAsync(Page, IntakeBed.Ct)).StatusCode);
        // The list of sessions says the same.
        Assert.Single((await used.GetStringAsync("/access/own", IntakeBed.Ct)).Split("name=\"id\"").Skip(1));
    }

    [Fact]
    public async Task Another_role_or_site_counts_from_the_next_request_on()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        Assert.Equal(HttpStatusCode.OK, (await client.GetAsync("/outreach", IntakeBed.Ct)).StatusCode);
        await bed.ListAsync("update people set role = 'screener', site_id = $1 returning 1", bed.Hill.Value);
        Assert.Equal("/denied", (await client.GetAsync("/outreach", IntakeBed.Ct)).Headers.Location!.AbsolutePath);
        await bed.ListAsync("update people set role = 'auditor', site_id = null returning 1");
        Assert.Equal("/denied", (await client.GetAsync("/infants", IntakeBed.Ct)).Headers.Location!.AbsolutePath);
    }

    [Fact]
    public async Task Only_the_hash_of_a_token_is_kept()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var cookie = await CookieAsync(bed, await bed.AddPersonAsync(Role.Coordinator));
        var token = cookie.Split('=')[1];
        Assert.Equal(43, token.Length); // 32 random bytes
        Assert.DoesNotContain(token, string.Join("", await bed.ListAsync("select row_to_json(s) from sessions s")),
            StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_person_sees_and_ends_the_own_sessions_and_no_others()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var person = await bed.AddPersonAsync(Role.Coordinator);
        var (here, there) = (SignedIn.Nobody(bed), SignedIn.Nobody(bed));
        foreach (var client in new[] { here, there }) await SignedIn.PostAsync(client, person, IntakeBed.Password);
        var stranger = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var foreign = (await bed.ListAsync("select id from sessions where person_id <> $1", person.Id)).Single();

        Assert.Equal(2, (await here.GetStringAsync("/access/own", IntakeBed.Ct)).Split("name=\"id\"").Length - 1);
        await PostAsync(here, "/access/own", "?handler=End", ("id", foreign));
        Assert.Equal(HttpStatusCode.OK, (await stranger.GetAsync(Page, IntakeBed.Ct)).StatusCode);
        await PostAsync(here, "/access/own", "?handler=End");
        Assert.Equal(HttpStatusCode.OK, (await here.GetAsync(Page, IntakeBed.Ct)).StatusCode);
        Assert.Equal(HttpStatusCode.Redirect, (await there.GetAsync(Page, IntakeBed.Ct)).StatusCode);
    }

    [Fact]
    public async Task The_keys_of_forms_are_in_the_database_and_unreadable_without_the_passphrase()
    {
        const string passphrase = "a passphrase of this test only";
        await using var bed = await IntakeBed.StartAsync(
            database, new Dictionary<string, string?> { ["Access:KeyPassphrase"] = passphrase });
        using var client = SignedIn.Nobody(bed);
        await client.GetAsync("/sign-in", IntakeBed.Ct);
        var kept = (await bed.ListAsync("select content from form_keys")).Last();
        Assert.Contains("byPassphrase", kept, StringComparison.Ordinal);
        Assert.DoesNotContain("<masterKey", kept, StringComparison.Ordinal);

        // The node beside it, and the same one after a restart, reads what was protected before.
        var protectedText = Protector(bed.App).Protect("note"u8.ToArray());
        await using var again = RegistryApp.On(bed.App.Logins.Owner!, new Dictionary<string, string?>
        {
            ["Access:AllowHttp"] = "true",
            ["Access:KeyPassphrase"] = passphrase,
        });
        Assert.Equal("note"u8.ToArray(), Protector(again).Unprotect(protectedText));
    }

    private static Microsoft.AspNetCore.DataProtection.IDataProtector Protector(RegistryApp app) =>
        app.Services.GetRequiredService<Microsoft.AspNetCore.DataProtection.IDataProtectionProvider>().CreateProtector("test");

    /// <summary>The same people with the same ids in another installation.</summary>
    private async Task<IntakeBed> OtherInstallationAsync(IntakeBed one)
    {
        var other = await IntakeBed.StartAsync(database);
        await other.App.AsOwnerAsync("update installation set id = gen_random_uuid()");
        await using var db = other.App.OpenDb();
        await using var mine = one.App.OpenDb();
        foreach (var person in await mine.Users.AsNoTracking().ToListAsync(IntakeBed.Ct)) db.Users.Add(person);
        await db.SaveChangesAsync(IntakeBed.Ct);
        return other;
    }

    private static async Task<string> CookieAsync(IntakeBed bed, Person person)
    {
        using var client = SignedIn.Nobody(bed);
        using var answer = await SignedIn.PostAsync(client, person, IntakeBed.Password);
        return answer.Headers.GetValues("Set-Cookie").Single(c => c.StartsWith("registry-session", StringComparison.Ordinal)).Split(';')[0];
    }

    private static async Task<HttpStatusCode> AskAsync(IntakeBed bed, string cookie)
    {
        using var client = new HttpClient(bed.App.Server.CreateHandler()) { BaseAddress = bed.App.ClientOptions.BaseAddress };
        client.DefaultRequestHeaders.Add("Cookie", cookie);
        using var answer = await client.GetAsync(Page, IntakeBed.Ct);
        return answer.StatusCode;
    }

    internal static async Task<HttpResponseMessage> PostAsync(HttpClient client, string page, string query,
        params (string Name, string Value)[] fields)
    {
        var token = await SignedIn.TokenAsync(client, page);
        using var form = new FormUrlEncodedContent(
            fields.Append(("__RequestVerificationToken", token)).Select(f => new KeyValuePair<string, string>(f.Item1, f.Item2)));
        return await client.PostAsync(page + query, form, IntakeBed.Ct);
    }
}
