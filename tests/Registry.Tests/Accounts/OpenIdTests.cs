using System.Net;
using System.Security.Claims;
using System.Text.Json.Nodes;
using Microsoft.AspNetCore.Identity;
using Microsoft.Extensions.DependencyInjection;
using Registry.Records;
using Registry.Tests.Intake;

namespace Registry.Tests.Accounts;

/// <summary>Signing in by an OpenID provider, over a real one on loopback (OpenIddict): whom it lets in as what, and every way in that is
/// none. OpenID Connect Core 1.0, 3.1.3.7 (what of an ID token is checked) and 5.7 (issuer and subject); RFC 9700, 2.1 and 4.5.</summary>
public sealed class OpenIdTests(TestDatabase database, OpenIdProvider.Shared shared) : IClassFixture<OpenIdProvider.Shared>
{
    private const string Page = "/sign-in/openid";

    /// <summary>The first page of a screener, who asked for none.</summary>
    private const string ScreenersPage = "/ward";

    [Fact]
    public async Task A_group_at_the_provider_becomes_a_role_at_a_site_and_follows_it_at_every_sign_in()
    {
        var provider = shared.Fresh();
        await using var bed = await StartAsync(provider, [], ("harbour-screeners", "screener", "harbour"),
            ("hill-clinic", "audiology_clinic", "HILL"), ("program", "coordinator", null));
        provider.Claims.AddRange([new("name", "Sena Quispel"), new("email", "sena@lindmere.example"), new("groups", "harbour-screeners")]);
        using (var browser = SignedIn.Nobody(bed))
        {
            Assert.Contains("Sign in with Lindmere Health", await browser.GetStringAsync("/sign-in", IntakeBed.Ct),
                StringComparison.Ordinal);
            Assert.Equal(ScreenersPage, await EnterAsync(browser));
            Assert.Equal(HttpStatusCode.OK, (await browser.GetAsync("/follow-up", IntakeBed.Ct)).StatusCode);
            Assert.Equal(HttpStatusCode.Redirect, (await browser.GetAsync("/access/keys", IntakeBed.Ct)).StatusCode);
        }

        Assert.Equal(["screener harbour sena@lindmere.example"], await PeopleAsync(bed));
        provider.Claims.AddRange([new("groups", "hill-clinic"), new("groups", "unknown")]);
        await RefusedOrAsync(bed, ScreenersPage);
        Assert.Equal(["audiology_clinic hill"], await bed.ListAsync(
            "select concat_ws(' ', w.role, s.code) from person_places w join sites s on s.id = w.site_id"));
        provider.Claims.RemoveAll(c => c.Type == "groups");
        provider.Claims.Add(new("groups", "program"));
        await RefusedOrAsync(bed, "/");
        Assert.Equal(["coordinator sena@lindmere.example"], await PeopleAsync(bed));
        Assert.Equal(0, await bed.CountAsync("person_places"));

        // Without a role there any more: refused, in words, and out everywhere.
        provider.Claims.RemoveAll(c => c.Type == "groups");
        var said = await RefusedOrAsync(bed, "/sign-in?refused=no_place");
        Assert.Contains("names no role for you", said, StringComparison.Ordinal);
        Assert.Equal(0, await bed.CountAsync("sessions where ended_at is null"));
        Assert.Equal(["openid", "openid", "openid"], await bed.ListAsync("select note from access_records where kind = 'signed_in'"));
        Assert.Equal(1, await bed.CountAsync("access_records where kind = 'sign_in_failed' and subject_id is not null"));
    }

    [Fact]
    public async Task Without_a_mapping_only_who_was_invited_gets_in_and_only_by_an_address_the_provider_verified()
    {
        var provider = shared.Fresh();
        await using var bed = await StartAsync(provider, []);
        await using (var scope = bed.App.Services.CreateAsyncScope())
        {
            var manage = scope.ServiceProvider.GetRequiredService<Registry.Accounts.ManagePeople>();
            await manage.InviteAsync("cora@lindmere.example", "Cora Ashgrove", new(Role.Coordinator, null), null, IntakeBed.Ct);
        }

        await RefusedOrAsync(bed, "/sign-in?refused=not_invited");
        provider.Claims.AddRange([new("email", "cora@lindmere.example"), Verified(false)]);
        await RefusedOrAsync(bed, "/sign-in?refused=not_invited");
        provider.Claims[1] = Verified(true);
        await RefusedOrAsync(bed, "/");
        Assert.Equal(["coordinator cora@lindmere.example"], await PeopleAsync(bed));
        // Known by issuer and subject from now on: another subject with the same verified address is nobody, and the link is used up.
        Assert.Equal(0, await bed.CountAsync("one_time_links where used_at is null and purpose = 'password'"));
        provider.Subject = "subject-2";
        await RefusedOrAsync(bed, "/sign-in?refused=not_invited");
        provider.Subject = "subject-1";
        provider.Claims.Clear();
        await RefusedOrAsync(bed, "/");
    }

    /// <summary>An existing coordinator's address says nothing about who shows it, verified or not.</summary>
    [Theory]
    [InlineData(false, false, "/sign-in?refused=not_invited")]
    [InlineData(false, true, "/sign-in?refused=not_invited")]
    [InlineData(true, false, "/sign-in?refused=address_taken")]
    [InlineData(true, true, "/sign-in?refused=address_taken")]
    public async Task The_address_of_somebody_who_is_there_opens_nothing(bool mapped, bool verified, string answer)
    {
        var provider = shared.Fresh();
        await using var bed = await StartAsync(provider, [], mapped ? [("all", "screener", "harbour")] : []);
        var coordinator = await bed.AddPersonAsync(Role.Coordinator);
        provider.Claims.AddRange([new("email", coordinator.Email!), Verified(verified), new("groups", "all")]);
        await RefusedOrAsync(bed, answer);
        Assert.Equal(0, await bed.CountAsync("sessions"));
        Assert.Equal(0, await bed.CountAsync("person_logins"));
    }

    [Fact]
    public async Task Who_is_disabled_here_stays_out()
    {
        var provider = shared.Fresh();
        await using var bed = await StartAsync(provider, [], ("all", "screener", "harbour"));
        provider.Claims.AddRange([new("email", "sena@lindmere.example"), new("groups", "all")]);
        await RefusedOrAsync(bed, ScreenersPage);
        await bed.ListAsync("update people set disabled_at = now() returning 1");
        await RefusedOrAsync(bed, "/sign-in?refused=disabled");
        Assert.Equal(1, await bed.CountAsync("sessions"));
    }

    [Theory]
    [InlineData("mfa", "mfa", HttpStatusCode.OK)]
    [InlineData("mfa", "pwd", HttpStatusCode.Redirect)]
    [InlineData("mfa", null, HttpStatusCode.Redirect)]
    [InlineData(null, "mfa", HttpStatusCode.Redirect)] // nobody said that the provider's is taken
    public async Task The_second_factor_is_taken_from_the_provider_only_where_a_setting_says_so_and_a_claim_proves_it(
        string? taken, string? shown, HttpStatusCode opens)
    {
        var provider = shared.Fresh();
        await using var bed = await StartAsync(provider, [("Access:RequireSecondFactor", "true"), ("OpenId:FactorValues:0", taken)],
            ("program", "coordinator", null));
        provider.Claims.AddRange([new("email", "cora@lindmere.example"), new("groups", "program")]);
        if (shown is not null) provider.Claims.Add(new("amr", shown));
        using var browser = SignedIn.Nobody(bed);
        Assert.Equal("/", await EnterAsync(browser));
        using var page = await browser.GetAsync("/follow-up", IntakeBed.Ct);
        Assert.Equal(opens, page.StatusCode);
        if (opens == HttpStatusCode.Redirect) Assert.Equal("/sign-in/new-second-factor", page.Headers.Location!.AbsolutePath);
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public async Task A_password_of_this_registry_opens_for_people_of_the_provider_only_where_a_setting_says_so(bool local)
    {
        var provider = shared.Fresh();
        await using var bed = await StartAsync(provider, [("OpenId:LocalSignIn", local ? "true" : "false")],
            ("all", "screener", "harbour"));
        provider.Claims.AddRange([new("email", "sena@lindmere.example"), new("groups", "all")]);
        await RefusedOrAsync(bed, ScreenersPage);
        await using var scope = bed.App.Services.CreateAsyncScope();
        var people = scope.ServiceProvider.GetRequiredService<UserManager<Person>>();
        var person = (await people.FindByEmailAsync("sena@lindmere.example"))!;
        Assert.True((await people.RemovePasswordAsync(person)).Succeeded);
        Assert.True((await people.AddPasswordAsync(person, IntakeBed.Password)).Succeeded);
        using var browser = SignedIn.Nobody(bed);
        using var answer = await SignedIn.PostAsync(browser, person, IntakeBed.Password);
        Assert.Equal(local ? HttpStatusCode.Redirect : HttpStatusCode.OK, answer.StatusCode);
        // People of this registry alone are not touched by it.
        using var other = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
    }

    /// <summary>What a provider gone bad, or somebody between, could say. The same words for all of it.</summary>
    [Theory]
    [InlineData("nonce", "another")]
    [InlineData("nonce", null)]
    [InlineData("aud", "another-client")]
    [InlineData("iss", "https://elsewhere.example/")]
    [InlineData("exp", "1000000000")]
    [InlineData("sub", null)]
    [InlineData("alg", "none")]
    public async Task An_ID_token_that_is_not_the_answer_to_what_was_asked_opens_nothing(string claim, string? value)
    {
        var provider = shared.Fresh();
        await using var bed = await StartAsync(provider, [], ("all", "coordinator", null));
        provider.Claims.AddRange([new("email", "cora@lindmere.example"), new("groups", "all")]);
        await RefusedOrAsync(bed, "/"); // the subject is known, and would be found
        provider.WithoutSignature = claim == "alg";
        provider.Alter = token =>
        {
            if (claim == "alg") return;
            token.Remove(claim);
            if (value is not null) token[claim] = claim == "exp" ? JsonValue.Create(long.Parse(value,
                System.Globalization.CultureInfo.InvariantCulture)) : value;
        };
        await RefusedOrAsync(bed, "/sign-in?refused=failed");
        Assert.Equal(1, await bed.CountAsync("sessions"));
        provider.Alter = _ => { }; // signed anew and unaltered it opens: it was not the signing that failed
        provider.WithoutSignature = false;
        await RefusedOrAsync(bed, "/");
    }

    [Fact]
    public async Task A_forged_state_a_stolen_answer_and_a_code_put_into_another_flow_open_nothing()
    {
        var provider = shared.Fresh();
        await using var bed = await StartAsync(provider, [], ("all", "screener", "harbour"));
        provider.Claims.AddRange([new("email", "sena@lindmere.example"), new("groups", "all")]);
        using var victim = SignedIn.Nobody(bed);
        using var attacker = SignedIn.Nobody(bed);
        var answer = await AskAsync(victim);
        var query = System.Web.HttpUtility.ParseQueryString(new Uri(answer).Query);
        foreach (var forged in new[]
        {
            $"/sign-in/openid/answer?code={query["code"]}&state=forged",
            $"/sign-in/openid/answer?code={query["code"]}",
            $"/sign-in/openid/answer?code={query["code"]}&state={query["state"]![..^4]}AAAA",
            "/sign-in/openid/answer?error=access_denied&state=" + query["state"],
            "/sign-in/openid/answer",
        })
            Assert.Equal("/sign-in?refused=failed", await LocationAsync(attacker, forged));
        // The whole answer in another browser, which did not ask.
        Assert.Equal("/sign-in?refused=failed", await LocationAsync(attacker, answer));
        // Somebody else's code in one's own flow: made for another proof (PKCE) and another nonce.
        var own = System.Web.HttpUtility.ParseQueryString(new Uri(await AskAsync(attacker)).Query);
        Assert.Equal("/sign-in?refused=failed", await LocationAsync(attacker,
            $"/sign-in/openid/answer?code={Uri.EscapeDataString(query["code"]!)}&state={Uri.EscapeDataString(own["state"]!)}"));
        Assert.Equal(0, await bed.CountAsync("sessions"));

        // The one who asked, once; a second time it is nothing.
        using var honest = SignedIn.Nobody(bed);
        var right = await AskAsync(honest);
        Assert.Equal(ScreenersPage, await LocationAsync(honest, right));
        Assert.Equal("/sign-in?refused=failed", await LocationAsync(honest, right));
        Assert.Equal(1, await bed.CountAsync("sessions"));
    }

    [Fact]
    public async Task Metadata_that_speaks_for_another_issuer_leads_nowhere()
    {
        var provider = shared.Fresh();
        provider.SaysItIs = "https://elsewhere.example/";
        await using var bed = await StartAsync(provider, [], ("all", "screener", "harbour"));
        using var browser = SignedIn.Nobody(bed);
        Assert.Equal("/sign-in?refused=failed", await LocationAsync(browser, Page));
    }

    [Fact]
    public async Task A_page_elsewhere_signs_nobody_in()
    {
        var provider = shared.Fresh();
        await using var bed = await StartAsync(provider, [], ("all", "screener", "harbour"));
        using var browser = SignedIn.Nobody(bed);
        browser.DefaultRequestHeaders.Add("Sec-Fetch-Site", "cross-site");
        Assert.Equal("/sign-in", await LocationAsync(browser, Page));
    }

    [Theory]
    [InlineData("https://evil.example/", ScreenersPage)]
    [InlineData("//evil.example", ScreenersPage)]
    [InlineData("/\\evil.example", ScreenersPage)]
    [InlineData("/follow-up?due=any", "/follow-up?due=any")]
    public async Task Afterwards_one_is_on_a_page_of_this_registry(string asked, string page)
    {
        var provider = shared.Fresh();
        await using var bed = await StartAsync(provider, [], ("all", "screener", "harbour"));
        provider.Claims.AddRange([new("email", "sena@lindmere.example"), new("groups", "all")]);
        using var browser = SignedIn.Nobody(bed);
        Assert.Equal(page, await EnterAsync(browser, $"{Page}?returnTo={Uri.EscapeDataString(asked)}"));
    }

    [Fact]
    public async Task A_provider_that_does_not_answer_is_said_in_words_and_passwords_go_on()
    {
        await using var bed = await IntakeBed.StartAsync(database, new Dictionary<string, string?>
        {
            ["OpenId:Authority"] = "http://127.0.0.1:1",
            ["OpenId:ClientId"] = "registry",
            ["OpenId:ClientSecret"] = "secret",
        });
        using var browser = SignedIn.Nobody(bed);
        Assert.Equal("/sign-in?refused=failed", await LocationAsync(browser, Page));
        using var person = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
    }

    [Theory]
    [InlineData("OpenId:ClientSecret", "", "required with OpenId:Authority")]
    [InlineData("OpenId:Places:0:Role", "chief", "OpenId:Places:0 needs")]
    [InlineData("OpenId:Places:0:Site", "", "OpenId:Places:0 needs")]
    [InlineData("OpenId:Places:0:Value", "", "OpenId:Places:0 needs")]
    [InlineData("OpenId:Authority", "nowhere", "is no address")]
    public async Task Settings_that_would_let_in_nobody_or_anybody_are_refused_at_the_start(string name, string value, string because)
    {
        var provider = shared.Fresh();
        var settings = provider.Settings(("all", "screener", "harbour"));
        settings[name] = value;
        var refused = await Assert.ThrowsAsync<InvalidOperationException>(() => IntakeBed.StartAsync(database, settings));
        Assert.Contains(because, refused.Message, StringComparison.Ordinal);
    }

    private Task<IntakeBed> StartAsync(OpenIdProvider provider, (string Name, string? Value)[] more,
        params (string Value, string Role, string? Site)[] places)
    {
        var settings = provider.Settings(places);
        foreach (var (name, value) in more) if (value is not null) settings[name] = value;
        return IntakeBed.StartAsync(database, settings);
    }

    private static Claim Verified(bool verified) => new("email_verified", verified ? "true" : "false", ClaimValueTypes.Boolean);

    /// <summary>Signs in with a fresh browser, and says what the page shows that it ends on.</summary>
    private static async Task<string> RefusedOrAsync(IntakeBed bed, string endsOn)
    {
        using var browser = SignedIn.Nobody(bed);
        Assert.Equal(endsOn, await EnterAsync(browser));
        return await (await browser.GetAsync(endsOn, IntakeBed.Ct)).Content.ReadAsStringAsync(IntakeBed.Ct);
    }

    /// <summary>Through the provider and back.</summary>
    /// <returns>Where the registry sends the browser then.</returns>
    private static async Task<string> EnterAsync(HttpClient browser, string from = Page) =>
        await LocationAsync(browser, await AskAsync(browser, from));

    /// <returns>The address of the answer, to which the provider sends the browser.</returns>
    private static async Task<string> AskAsync(HttpClient browser, string from = Page)
    {
        var there = await LocationAsync(browser, from);
        Assert.Contains("code_challenge_method=S256", there, StringComparison.Ordinal);
        using var outside = new HttpClient(new SocketsHttpHandler { AllowAutoRedirect = false }) { Timeout = Eventually.Patience };
        return await LocationAsync(outside, there);
    }

    private static async Task<string> LocationAsync(HttpClient client, string address)
    {
        using var answer = await client.GetAsync(address, IntakeBed.Ct);
        Assert.True(answer.StatusCode == HttpStatusCode.Redirect,
            $"{answer.StatusCode}: {await answer.Content.ReadAsStringAsync(IntakeBed.Ct)}");
        return answer.Headers.Location!.OriginalString;
    }

    private static Task<List<string>> PeopleAsync(IntakeBed bed) => bed.ListAsync(
        """
        select concat_ws(' ', p.role, s.code, p.email) from people p left join sites s on s.id = p.site_id
         where exists (select from person_logins l where l.user_id = p.id)
        """);
}
