using System.Net;
using System.Text.RegularExpressions;
using Registry.Access;
using Registry.Records;
using Registry.Tests.Access;
using Registry.Tests.Intake;

namespace Registry.Tests.Accounts;

/// <summary>A second factor: what it takes, what half a sign-in opens, and what a guesser gets.</summary>
public sealed partial class SecondFactorTests(TestDatabase database)
{
    private static readonly Dictionary<string, string?> Required = new() { ["Access:RequireSecondFactor"] = "true" };

    /// <summary>RFC 6238, appendix B, SHA-1: the secret is the ASCII text 12345678901234567890, in base32 here; of the eight figures
    /// printed there, the last six.</summary>
    [Theory]
    [InlineData(59, "94287082", 0x1)]
    [InlineData(1111111109, "07081804", 0x23523EC)]
    [InlineData(1111111111, "14050471", 0x23523ED)]
    [InlineData(1234567890, "89005924", 0x273EF07)]
    [InlineData(2000000000, "69279037", 0x3F940AA)]
    [InlineData(20000000000, "65353130", 0x27BC86AA)]
    public void A_code_is_what_the_published_vectors_say(long seconds, string figures, long step)
    {
        const string secret = "GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ";
        var at = DateTimeOffset.FromUnixTimeSeconds(seconds);
        Assert.Equal(step, CheckSecondFactor.StepOf(secret, figures[^6..], at));
        Assert.Equal(figures[^6..], CodeOf.Key(secret, at)); // the tests' own authenticator too
        Assert.Equal(step, CheckSecondFactor.StepOf(secret, figures[^6..], at.AddSeconds(30)));
        Assert.Null(CheckSecondFactor.StepOf(secret, figures[^6..], at.AddSeconds(90)));
        Assert.Null(CheckSecondFactor.StepOf(secret, figures, at));
    }

    [Theory]
    [InlineData(Role.Administrator, true)]
    [InlineData(Role.Coordinator, true)]
    [InlineData(Role.Auditor, true)]
    [InlineData(Role.Screener, false)]
    [InlineData(Role.SiteManager, false)]
    public async Task Whoever_sees_more_than_one_site_must_set_one(Role role, bool must)
    {
        await using var bed = await IntakeBed.StartAsync(database, Required);
        var client = await SignedIn.AsAsync(bed, role, role is Role.Screener or Role.SiteManager ? bed.Harbour : null);
        using var answer = await client.GetAsync("/access/own", IntakeBed.Ct);
        Assert.Equal(must ? HttpStatusCode.Redirect : HttpStatusCode.OK, answer.StatusCode);
        if (must) Assert.Equal(Entering.NewPage, answer.Headers.Location!.AbsolutePath);
    }

    [Fact]
    public async Task Somebody_of_two_sites_must_set_one_too()
    {
        await using var bed = await IntakeBed.StartAsync(database, Required);
        var person = await bed.AddPersonAsync(Role.Screener, bed.Harbour);
        var client = SignedIn.Nobody(bed);
        using var signedIn = await SignedIn.PostAsync(client, person, IntakeBed.Password);
        Assert.Equal(HttpStatusCode.OK, (await client.GetAsync("/access/own", IntakeBed.Ct)).StatusCode);
        await bed.ListAsync("insert into person_places (id, person_id, role, site_id, since) "
            + "values (gen_random_uuid(), $1, 'screener', $2, now()) returning 1", person.Id, bed.Hill.Value);
        Assert.Equal(HttpStatusCode.Redirect, (await client.GetAsync("/access/own", IntakeBed.Ct)).StatusCode);
    }

    [Fact]
    public async Task A_code_is_taken_once_a_recovery_code_once_and_both_only_of_their_owner()
    {
        await using var bed = await IntakeBed.StartAsync(database, Required);
        var (person, key, recovery) = await SetAsync(bed);
        var (other, otherKey, _) = await SetAsync(bed);

        var code = CodeOf.Key(key, DateTimeOffset.UtcNow.AddSeconds(30)); // the one at setting up is used already
        Assert.True(await EntersAsync(bed, person, code));
        Assert.False(await EntersAsync(bed, person, code));
        Assert.False(await EntersAsync(bed, person, CodeOf.Key(key, DateTimeOffset.UtcNow)));
        Assert.True(await EntersAsync(bed, person, recovery[0]));
        Assert.False(await EntersAsync(bed, person, recovery[0]));
        Assert.False(await EntersAsync(bed, other, recovery[1]));
        Assert.False(await EntersAsync(bed, person, CodeOf.Key(otherKey, DateTimeOffset.UtcNow.AddSeconds(30))));
    }

    [Fact]
    public async Task Two_who_show_one_code_at_once_do_not_both_enter()
    {
        await using var bed = await IntakeBed.StartAsync(database, Required);
        var (person, key, _) = await SetAsync(bed);
        var code = CodeOf.Key(key, DateTimeOffset.UtcNow.AddSeconds(30));
        var entered = await Task.WhenAll(Enumerable.Range(0, 6).Select(_ => EntersAsync(bed, person, code)));
        Assert.Single(entered, e => e);
    }

    [Fact]
    public async Task Guessing_codes_waits_longer_and_longer_and_then_the_right_one_is_refused_as_well()
    {
        await using var bed = await IntakeBed.StartAsync(database, Required);
        var (person, key, _) = await SetAsync(bed);
        var client = await HalfAsync(bed, person);
        for (var guess = 0; guess < 8; guess++)
        {
            using var wrong = await CodeAsync(client, "000000");
            Assert.Equal(HttpStatusCode.OK, wrong.StatusCode);
        }

        using var right = await CodeAsync(client, CodeOf.Key(key, DateTimeOffset.UtcNow.AddSeconds(30)));
        Assert.Equal(HttpStatusCode.OK, right.StatusCode); // the same page, in the same words
        Assert.True(long.Parse((await bed.ListAsync("select count(*) from access_records where kind = 'second_factor_failed'"))[0],
            System.Globalization.CultureInfo.InvariantCulture) >= 9);
    }

    /// <summary>Every page and endpoint, asked for with the right password and no code.</summary>
    [Fact]
    public async Task Half_a_sign_in_opens_what_a_stranger_opens_and_the_page_that_asks()
    {
        await using var bed = await IntakeBed.StartAsync(database, Required);
        await bed.SendAsync("kind,record_number,birth_date,sex,ear,outcome,method,performed_at\nbirth,H-1,2026-09-01,female,,,,\n"
            + "screening,H-1,,,right,pass,aabr,2026-09-02T09:15\n");
        var (person, _, _) = await SetAsync(bed);
        var (half, nobody) = (await HalfAsync(bed, person), SignedIn.Nobody(bed));
        var opened = new List<string>();
        foreach (var route in await Routes.OfAsync(bed, await Routes.SamplesAsync(bed)))
        {
            using var ofStranger = await nobody.SendAsync(Ask(route), IntakeBed.Ct);
            using var ofHalf = await half.SendAsync(Ask(route), IntakeBed.Ct);
            var refused = ofHalf.StatusCode is HttpStatusCode.Redirect or HttpStatusCode.Unauthorized or HttpStatusCode.Forbidden;
            if (!refused && ofHalf.StatusCode != ofStranger.StatusCode) opened.Add($"{route.Verb} {route.Pattern}: {ofHalf.StatusCode}");
        }

        Assert.Equal([$"GET {Entering.AskPage}: OK"], opened);

        static HttpRequestMessage Ask(Route route) =>
            new(new(route.Verb), route.Path) { Content = route.Verb == "POST" ? new StringContent("") : null };
    }

    [Fact]
    public async Task A_copy_of_the_database_makes_no_code()
    {
        await using var bed = await IntakeBed.StartAsync(database, Required);
        var (_, key, recovery) = await SetAsync(bed);
        foreach (var stored in await bed.ListAsync("select value from person_tokens"))
        {
            Assert.StartsWith("enc:", stored, StringComparison.Ordinal);
            Assert.DoesNotContain(key, stored, StringComparison.Ordinal);
            Assert.DoesNotContain(recovery[0], stored, StringComparison.Ordinal);
        }
    }

    [Fact]
    public async Task An_administrator_takes_a_lost_one_away_and_the_next_sign_in_asks_for_another()
    {
        await using var bed = await IntakeBed.StartAsync(database, Required);
        var (person, _, _) = await SetAsync(bed);
        var (_, _, _, administrator) = await SetAndStayAsync(bed, Role.Administrator);
        using var answer = await SessionsTests.PostAsync(administrator, $"/access/people/{person.Id}", "?handler=Factor");
        Assert.Equal(HttpStatusCode.Redirect, answer.StatusCode);
        Assert.Empty(await bed.ListAsync("select 1 from person_tokens where user_id = $1", person.Id));
        var client = SignedIn.Nobody(bed);
        using var signedIn = await SignedIn.PostAsync(client, person, IntakeBed.Password);
        using var page = await client.GetAsync("/follow-up", IntakeBed.Ct);
        Assert.Equal(Entering.NewPage, page.Headers.Location!.AbsolutePath);
    }

    internal static async Task<(Person Person, string Key, IReadOnlyList<string> Recovery)> SetAsync(
        IntakeBed bed, Role role = Role.Coordinator)
    {
        var (person, key, recovery, client) = await SetAndStayAsync(bed, role);
        client.Dispose();
        return (person, key, recovery);
    }

    internal static async Task<(Person Person, string Key, IReadOnlyList<string> Recovery, HttpClient Client)> SetAndStayAsync(
        IntakeBed bed, Role role)
    {
        var person = await bed.AddPersonAsync(role);
        var client = SignedIn.Nobody(bed);
        using var signedIn = await SignedIn.PostAsync(client, person, IntakeBed.Password);
        var page = await client.GetStringAsync(Entering.NewPage, IntakeBed.Ct);
        var key = Key().Match(page).Groups[1].Value.Replace(" ", "", StringComparison.Ordinal);
        using var form = new FormUrlEncodedContent(
        [
            new("Code", CodeOf.Key(key, DateTimeOffset.UtcNow)), new("Sealed", Sealed().Match(page).Groups[1].Value),
            new("__RequestVerificationToken", await SignedIn.TokenAsync(client, Entering.NewPage)),
        ]);
        using var set = await client.PostAsync(Entering.NewPage, form, IntakeBed.Ct);
        var codes = Code().Matches(await set.Content.ReadAsStringAsync(IntakeBed.Ct)).Select(m => m.Groups[1].Value).ToList();
        Assert.Equal(10, codes.Count);
        return (person, key, codes, client);
    }

    private static async Task<HttpClient> HalfAsync(IntakeBed bed, Person person)
    {
        var client = SignedIn.Nobody(bed);
        using var answer = await SignedIn.PostAsync(client, person, IntakeBed.Password);
        Assert.StartsWith(Entering.AskPage, answer.Headers.Location!.OriginalString, StringComparison.Ordinal);
        return client;
    }

    private static async Task<bool> EntersAsync(IntakeBed bed, Person person, string code)
    {
        using var client = await HalfAsync(bed, person);
        using var answer = await CodeAsync(client, code);
        return answer.StatusCode == HttpStatusCode.Redirect
            && (await client.GetAsync("/follow-up", IntakeBed.Ct)).StatusCode == HttpStatusCode.OK;
    }

    private static Task<HttpResponseMessage> CodeAsync(HttpClient client, string code) =>
        SessionsTests.PostAsync(client, Entering.AskPage, "", ("Code", code));

    [GeneratedRegex("""<code id="key">([^<]+)</code>""")]
    private static partial Regex Key();

    [GeneratedRegex("""name="Sealed" value="([^"]+)""")]
    private static partial Regex Sealed();

    [GeneratedRegex("<li><code>([^<]+)</code></li>")]
    private static partial Regex Code();
}
