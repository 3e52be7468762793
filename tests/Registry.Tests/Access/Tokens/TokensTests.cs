using System.Net;
using System.Net.Http.Json;
using System.Text;
using System.Text.Json;
using System.Text.Json.Nodes;
using Microsoft.Extensions.DependencyInjection;
using Registry.Access;
using Registry.Access.Tokens;
using Registry.Records;
using Registry.Tests.Intake;

namespace Registry.Tests.Access.Tokens;

/// <summary>
/// Systems that sign: what HL7 SMART App Launch 2.2 ("Backend Services", "Client Authentication: Asymmetric") says a server SHALL do, each
/// rule as an attack that breaks it; RFC 6749 section 5 (answers), RFC 7523 section 3 (assertions).
/// </summary>
public sealed class TokensTests(TestDatabase database)
{
    private const string Row = "kind,record_number,birth_date,sex\nbirth,71,2026-11-01,female\n";

    [Theory]
    [InlineData("ES384")]
    [InlineData("RS384")]
    public async Task A_system_reads_where_shows_an_assertion_and_sends_and_reads_with_its_token(string algorithm)
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var system = await new SystemWithKeys().RegisterAsync(bed, bed.Harbour);
        using var client = SignedIn.Nobody(bed);
        var told = await client.GetFromJsonAsync<JsonElement>("/fhir/.well-known/smart-configuration", IntakeBed.Ct);
        Assert.Equal(SystemWithKeys.Url, told.GetProperty("token_endpoint").GetString());
        Assert.Equal(["private_key_jwt"], Texts(told, "token_endpoint_auth_methods_supported"));
        Assert.Equal(["RS384", "ES384"], Texts(told, "token_endpoint_auth_signing_alg_values_supported"));
        Assert.Contains("client-confidential-asymmetric", Texts(told, "capabilities"));
        Assert.Contains("system/*.rs", Texts(told, "scopes_supported"));

        using var content = new FormUrlEncodedContent(SystemWithKeys.Form(system.Assertion(algorithm: algorithm), "system/*.crs"));
        using var given = await client.PostAsync(IssueToken.Path, content, IntakeBed.Ct);
        Assert.Equal("no-store", given.Headers.CacheControl!.ToString());
        Assert.Equal("no-cache", given.Headers.Pragma.ToString());
        Assert.Equal("application/json", given.Content.Headers.ContentType!.MediaType);
        var token = await given.Content.ReadFromJsonAsync<JsonElement>(IntakeBed.Ct);
        Assert.Equal(["access_token", "expires_in", "scope", "token_type"], token.EnumerateObject().Select(p => p.Name).Order());
        Assert.Equal(("bearer", 300, "system/*.crs"), (token.GetProperty("token_type").GetString(),
            token.GetProperty("expires_in").GetInt32(), token.GetProperty("scope").GetString()));

        using var opened = Bearing(bed, token.GetProperty("access_token").GetString()!);
        Assert.Equal(HttpStatusCode.OK, await SendAsync(opened));
        var infant = (await bed.ListAsync("select id from infants"))[0];
        Assert.Equal(HttpStatusCode.OK, (await opened.GetAsync($"/fhir/Patient/{infant}", IntakeBed.Ct)).StatusCode);
        Assert.Equal([$"{system.Id} send_and_read"], await bed.ListAsync(
            "select subject_id || ' ' || note from access_records where kind = 'token_issued'"));
        Assert.Equal([system.Id.ToString()], await bed.ListAsync("select site_key_id from access_records where kind = 'read'"));
        Assert.Equal(1, await bed.CountAsync("site_keys where last_used_at is not null"));
        // Of the token and of what was shown for it only hashes are kept.
        Assert.Equal(0, await bed.CountAsync(
            $"key_tokens t where t::text like '%{token.GetProperty("access_token").GetString()![4..20]}%'"));
    }

    /// <summary>Everything an assertion must say, one at a time wrong. It is refused as RFC 6749 says, and used up by nobody.</summary>
    [Theory]
    [InlineData("alg none", "alg must be")]
    [InlineData("HS256 with the public key", "alg must be")]
    [InlineData("RS256", "alg must be")]
    [InlineData("alg of the other key", "no system in force")]
    [InlineData("claims changed after signing", "no system in force")]
    [InlineData("key of another system", "no system in force")]
    [InlineData("unknown system", "no system in force")]
    [InlineData("unknown kid", "no system in force")]
    [InlineData("no kid", "kid is missing")]
    [InlineData("typ", "typ must be")]
    [InlineData("jku", "jku is not taken")]
    [InlineData("jwk", "no system in force")]
    [InlineData("crit", "crit names")]
    [InlineData("aud of another server", "aud must be")]
    [InlineData("aud of several", "aud must be")]
    [InlineData("no aud", "aud must be")]
    [InlineData("sub of another", "iss and sub")]
    [InlineData("no exp", "exp is missing")]
    [InlineData("exp as text", "no signed JWT")]
    [InlineData("ended", "it has ended")]
    [InlineData("an hour ahead", "more than five minutes")]
    [InlineData("exp beyond all numbers", "no signed JWT")]
    [InlineData("nbf ahead", "nbf lies ahead")]
    [InlineData("iat ahead", "iat lies ahead")]
    [InlineData("no jti", "jti must be")]
    [InlineData("no JWT", "no signed JWT")]
    [InlineData("too long", "too long")]
    public async Task An_assertion_that_proves_nothing_is_given_nothing(string attack, string because)
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var system = await new SystemWithKeys().RegisterAsync(bed, bed.Harbour);
        using var other = await new SystemWithKeys().RegisterAsync(bed, bed.Hill);
        using var client = SignedIn.Nobody(bed);
        var (status, answer) = await SystemWithKeys.PostAsync(client, SystemWithKeys.Form(Attack(attack, system, other), "system/*.rs"));
        Assert.Equal((400, "invalid_client"), (status, answer.GetProperty("error").GetString()));
        Assert.Contains(because, answer.GetProperty("error_description").GetString(), StringComparison.Ordinal);
        Assert.Equal(0, await bed.CountAsync("key_tokens"));
        Assert.Equal(1, await bed.CountAsync("access_records where kind = 'key_refused'"));
        await system.TokenAsync(client); // an honest one is given its own
    }

    private static string Attack(string attack, SystemWithKeys system, SystemWithKeys other)
    {
        var now = DateTimeOffset.UtcNow;
        string Claim(string name, JsonNode? value) => system.Assertion((_, claims) =>
        {
            claims.Remove(name);
            if (value is not null) claims[name] = value;
        });
        string Header(string name, JsonNode? value) => system.Assertion((header, _) =>
        {
            header.Remove(name);
            if (value is not null) header[name] = value;
        });
        return attack switch
        {
            "alg none" => system.Assertion(algorithm: "none"),
            "HS256 with the public key" => system.Assertion(algorithm: "HS256"),
            "RS256" => system.Assertion(algorithm: "RS256"),
            "alg of the other key" => Header("kid", SystemWithKeys.RsaKid),
            "claims changed after signing" => Swapped(system.Assertion(), system.Assertion((_, c) => c["jti"] = "mine")),
            "key of another system" => other.Assertion((_, c) => (c["iss"], c["sub"]) = (system.Id.ToString(), system.Id.ToString())),
            "unknown system" => system.Assertion((_, c) => (c["iss"], c["sub"]) = (Guid.Empty.ToString(), Guid.Empty.ToString())),
            "unknown kid" => Header("kid", "another"),
            "no kid" => Header("kid", null),
            "typ" => Header("typ", "at+jwt"),
            "jku" => Header("jku", "https://evil.example/jwks"),
            "jwk" => other.Assertion((h, c) =>
            {
                (c["iss"], c["sub"]) = (system.Id.ToString(), system.Id.ToString());
                h["jwk"] = other.CurveKey();
            }),
            "crit" => Header("crit", new JsonArray("exp")),
            "aud of another server" => Claim("aud", "https://elsewhere.example/oauth/token"),
            "aud of several" => Claim("aud", new JsonArray(SystemWithKeys.Url, "https://elsewhere.example/oauth/token")),
            "no aud" => Claim("aud", null),
            "sub of another" => Claim("sub", other.Id.ToString()),
            "no exp" => Claim("exp", null),
            "exp as text" => Claim("exp", "soon"),
            "ended" => Claim("exp", now.AddMinutes(-2).ToUnixTimeSeconds()),
            "an hour ahead" => Claim("exp", now.AddHours(1).ToUnixTimeSeconds()),
            "exp beyond all numbers" => Claim("exp", 1e300),
            "nbf ahead" => Claim("nbf", now.AddMinutes(3).ToUnixTimeSeconds()),
            "iat ahead" => Claim("iat", now.AddMinutes(3).ToUnixTimeSeconds()),
            "no jti" => Claim("jti", null),
            "no JWT" => "reg_something",
            _ => Claim("padding", new string('x', 9_000)),
        };
    }

    /// <summary>The claims of one with the signature of another.</summary>
    private static string Swapped(string one, string other) => string.Join('.', one.Split('.')[0], other.Split('.')[1], one.Split('.')[2]);

    [Fact]
    public async Task An_assertion_is_taken_once_also_where_it_asked_for_too_much_and_by_many_at_once()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var system = await new SystemWithKeys().RegisterAsync(bed, bed.Harbour, KeyScope.Send);
        using var client = SignedIn.Nobody(bed);
        var assertion = system.Assertion();
        Assert.Equal(200, (await SystemWithKeys.PostAsync(client, SystemWithKeys.Form(assertion, "system/*.c"))).Status);
        await ShownBeforeAsync(assertion, "system/*.c");

        assertion = system.Assertion();
        var (status, answer) = await SystemWithKeys.PostAsync(client, SystemWithKeys.Form(assertion, "system/*.rs"));
        Assert.Equal((400, "invalid_scope"), (status, answer.GetProperty("error").GetString()));
        await ShownBeforeAsync(assertion, "system/*.c");

        var raced = system.Assertion();
        var answers = await Task.WhenAll(Enumerable.Range(0, 8)
            .Select(_ => SystemWithKeys.PostAsync(client, SystemWithKeys.Form(raced, "system/*.c"))));
        Assert.Single(answers, a => a.Status == 200);

        // One jti of another system is another.
        using var other = await new SystemWithKeys().RegisterAsync(bed, bed.Hill);
        foreach (var one in new[] { system, other })
            Assert.Equal(200, (await SystemWithKeys.PostAsync(client,
                SystemWithKeys.Form(one.Assertion((_, c) => c["jti"] = "the same"), "system/*.c"))).Status);

        async Task ShownBeforeAsync(string again, string scope)
        {
            var (code, said) = await SystemWithKeys.PostAsync(client, SystemWithKeys.Form(again, scope));
            Assert.Equal(400, code);
            Assert.Contains("shown before", said.GetProperty("error_description").GetString(), StringComparison.Ordinal);
        }
    }

    [Theory]
    [InlineData(KeyScope.Send, "system/*.c", HttpStatusCode.OK, HttpStatusCode.Forbidden)]
    [InlineData(KeyScope.Read, "system/*.rs", HttpStatusCode.Forbidden, HttpStatusCode.OK)]
    [InlineData(KeyScope.SendAndRead, "system/*.c", HttpStatusCode.OK, HttpStatusCode.Forbidden)]
    [InlineData(KeyScope.SendAndRead, "system/*.r", HttpStatusCode.Forbidden, HttpStatusCode.OK)]
    [InlineData(KeyScope.SendAndRead, "system/*.c system/*.rs", HttpStatusCode.OK, HttpStatusCode.OK)]
    public async Task A_token_opens_what_was_asked_for_and_no_more(KeyScope key, string asked, HttpStatusCode sends, HttpStatusCode reads)
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync("record_number,birth_date,sex\n72,2026-11-02,male\n", kind: RowKind.Birth);
        var infant = (await bed.ListAsync("select id from infants"))[0];
        using var system = await new SystemWithKeys().RegisterAsync(bed, bed.Harbour, key);
        using var client = SignedIn.Nobody(bed);
        using var opened = Bearing(bed, await system.TokenAsync(client, asked));
        Assert.Equal(sends, await SendAsync(opened));
        using var record = await opened.GetAsync($"/fhir/Patient/{infant}", IntakeBed.Ct);
        Assert.Equal(reads, record.StatusCode);
        using var whole = await opened.GetAsync($"/fhir/Patient/{infant}/$everything", IntakeBed.Ct);
        Assert.Equal(reads, whole.StatusCode);
        foreach (var path in new[] { "/infants", "/api/v1/measures", "/fhir/Measure", "/access/keys" })
            Assert.Equal(HttpStatusCode.Forbidden, (await opened.GetAsync(path, IntakeBed.Ct)).StatusCode);
        // Another site's record is answered like one that is not there.
        using var other = await new SystemWithKeys().RegisterAsync(bed, bed.Hill);
        using var foreign = Bearing(bed, await other.TokenAsync(client));
        Assert.Equal(HttpStatusCode.NotFound, (await foreign.GetAsync($"/fhir/Patient/{infant}", IntakeBed.Ct)).StatusCode);
    }

    [Theory]
    [InlineData(KeyScope.Send, "system/*.rs")]
    [InlineData(KeyScope.Send, "system/*.crs")]
    [InlineData(KeyScope.Read, "system/*.c")]
    [InlineData(KeyScope.SendAndRead, "")]
    [InlineData(KeyScope.SendAndRead, "system/*.cruds")]
    [InlineData(KeyScope.SendAndRead, "system/Patient.rs")]
    [InlineData(KeyScope.SendAndRead, "user/*.rs")]
    [InlineData(KeyScope.SendAndRead, "system/*.rs patient/*.rs")]
    [InlineData(KeyScope.SendAndRead, "system/*.rs?_id=1")]
    [InlineData(KeyScope.SendAndRead, "openid offline_access")]
    public async Task A_scope_that_is_not_there_or_not_the_systems_is_refused_whole(KeyScope key, string asked)
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var system = await new SystemWithKeys().RegisterAsync(bed, bed.Harbour, key);
        using var client = SignedIn.Nobody(bed);
        var (status, answer) = await SystemWithKeys.PostAsync(client, SystemWithKeys.Form(system.Assertion(), asked));
        Assert.Equal((400, "invalid_scope"), (status, answer.GetProperty("error").GetString()));
        Assert.Equal(0, await bed.CountAsync("key_tokens where token_sha256 is not null"));
    }

    [Theory]
    [InlineData("update sites set active = false where code = 'harbour'")]
    [InlineData("update site_keys set expires_at = now() - interval '1 second'")]
    [InlineData("update site_keys set revoked_at = now()")]
    [InlineData("update site_keys set demonstration = true")]
    [InlineData("update key_tokens set ends_at = now()")]
    public async Task A_token_stops_with_its_key_at_the_next_request(string sql)
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var system = await new SystemWithKeys().RegisterAsync(bed, bed.Harbour);
        using var client = SignedIn.Nobody(bed);
        using var opened = Bearing(bed, await system.TokenAsync(client));
        Assert.Equal(HttpStatusCode.OK, await SendAsync(opened));
        await bed.App.AsOwnerAsync(sql);
        Assert.Equal(HttpStatusCode.Unauthorized, await SendAsync(opened));
        if (sql.Contains("key_tokens", StringComparison.Ordinal)) return;
        var (status, answer) = await SystemWithKeys.PostAsync(client, SystemWithKeys.Form(system.Assertion(), "system/*.rs"));
        Assert.Equal((400, "invalid_client"), (status, answer.GetProperty("error").GetString()));
    }

    [Fact]
    public async Task A_key_with_a_secret_shows_no_assertion_and_a_token_ends_by_itself_and_is_forgotten()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var system = await new SystemWithKeys().RegisterAsync(bed, bed.Harbour);
        using var client = SignedIn.Nobody(bed);
        await system.TokenAsync(client);
        Assert.Equal(["5"], await bed.ListAsync("select extract(minute from ends_at - issued_at)::int from key_tokens"));
        await bed.ListAsync("update key_tokens set ends_at = now() - interval '50 minutes' returning 1");
        await system.TokenAsync(client);
        Assert.Equal(1, await bed.CountAsync("key_tokens"));
        await using var scope = bed.App.Services.CreateAsyncScope();
        var (key, _) = await scope.ServiceProvider.GetRequiredService<SiteKeys>().IssueAsync(bed.Harbour, "secret", IntakeBed.Ct);
        var (status, _) = await SystemWithKeys.PostAsync(client, SystemWithKeys.Form(
            system.Assertion((_, c) => (c["iss"], c["sub"]) = (key.Id.ToString(), key.Id.ToString())), "system/*.rs"));
        Assert.Equal(400, status);
    }

    [Fact]
    public async Task Odd_forms_and_verbs_are_answered_as_the_standard_says_and_never_fail()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var system = await new SystemWithKeys().RegisterAsync(bed, bed.Harbour);
        using var client = SignedIn.Nobody(bed);
        foreach (var (name, value, error) in new[]
        {
            ("grant_type", "authorization_code", "unsupported_grant_type"), ("grant_type", "password", "unsupported_grant_type"),
            ("grant_type", "refresh_token", "unsupported_grant_type"), ("client_secret", "x", "invalid_request"),
            ("client_assertion_type", "urn:ietf:params:oauth:client-assertion-type:saml2-bearer", "invalid_client"),
            ("client_id", Guid.NewGuid().ToString(), "invalid_client"), ("client_assertion", "", "invalid_client"),
            ("client_assertion", "a\0b", "invalid_request"), ("scope", "a\0b", "invalid_request"),
        })
        {
            var form = SystemWithKeys.Form(system.Assertion(), "system/*.rs");
            form[name] = value;
            var (status, answer) = await SystemWithKeys.PostAsync(client, form);
            Assert.Equal((name, 400, error), (name, status, answer.GetProperty("error").GetString()));
        }

        var twice = SystemWithKeys.Form(system.Assertion(), "system/*.rs").Append(new("scope", "system/*.crs"));
        Assert.Equal("invalid_request", (await SystemWithKeys.PostAsync(client, twice)).Answer.GetProperty("error").GetString());
        using var json = JsonContent.Create(SystemWithKeys.Form(system.Assertion(), "system/*.rs"));
        using var asJson = await client.PostAsync(IssueToken.Path, json, IntakeBed.Ct);
        Assert.Equal(HttpStatusCode.BadRequest, asJson.StatusCode);
        using var basic = new HttpRequestMessage(HttpMethod.Post, IssueToken.Path);
        basic.Headers.Authorization = new("Basic", "eDp5");
        basic.Content = new FormUrlEncodedContent(SystemWithKeys.Form(system.Assertion(), "system/*.rs"));
        using var both = await client.SendAsync(basic, IntakeBed.Ct);
        Assert.Equal(HttpStatusCode.BadRequest, both.StatusCode);
        foreach (var verb in new[] { "GET", "PUT", "DELETE", "PATCH", "OPTIONS", "TRACE" })
        {
            using var odd = new HttpRequestMessage(new(verb), IssueToken.Path + "?grant_type=client_credentials");
            using var answer = await client.SendAsync(odd, IntakeBed.Ct);
            Assert.Equal((verb, HttpStatusCode.MethodNotAllowed), (verb, answer.StatusCode));
        }

        Assert.Equal(0, await bed.CountAsync("key_tokens"));
    }

    [Fact]
    public async Task So_many_a_minute_are_looked_at()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = SignedIn.Nobody(bed);
        var statuses = new List<int>();
        for (var i = 0; i < 400 && !statuses.Contains(429); i++)
        {
            using var content = new FormUrlEncodedContent(SystemWithKeys.Form("no assertion", "system/*.rs"));
            using var answer = await client.PostAsync(IssueToken.Path, content, IntakeBed.Ct);
            statuses.Add((int)answer.StatusCode);
        }

        Assert.Contains(429, statuses);
        Assert.InRange(statuses.Count, 120, 399);
    }

    [Fact]
    public async Task An_administrator_registers_a_system_and_changes_its_keys_and_a_private_key_is_not_taken()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var system = new SystemWithKeys();
        using var next = new SystemWithKeys();
        using var administrator = await SignedIn.AsAsync(bed, Role.Administrator, null);
        var withPrivate = system.RsaKey();
        withPrivate["d"] = "AQAB";
        using (var refused = await RegisterAsync(new JsonObject { ["keys"] = new JsonArray(withPrivate) }.ToJsonString()))
            Assert.Contains("must never leave the system", await refused.Content.ReadAsStringAsync(IntakeBed.Ct), StringComparison.Ordinal);
        Assert.Equal(0, await bed.CountAsync("site_keys"));
        using var made = await RegisterAsync(system.PublicKeys);
        var page = made.Headers.Location!.OriginalString;
        var id = page.Split('/')[^1];
        var text = await administrator.GetStringAsync(page, IntakeBed.Ct);
        Assert.Contains(id, text, StringComparison.Ordinal);
        Assert.Contains("/oauth/token", text, StringComparison.Ordinal);

        using var client = SignedIn.Nobody(bed);
        string As(SystemWithKeys by) => by.Assertion((_, c) => (c["iss"], c["sub"]) = (id, id));
        Assert.Equal(200, (await SystemWithKeys.PostAsync(client, SystemWithKeys.Form(As(system), "system/*.rs"))).Status);
        using (var changed = await SessionsTests.PostAsync(administrator, page, "?handler=PublicKeys", ("PublicKeys", next.PublicKeys)))
            Assert.Equal(HttpStatusCode.Redirect, changed.StatusCode);
        Assert.Equal(400, (await SystemWithKeys.PostAsync(client, SystemWithKeys.Form(As(system), "system/*.rs"))).Status);
        Assert.Equal(200, (await SystemWithKeys.PostAsync(client, SystemWithKeys.Form(As(next), "system/*.rs"))).Status);
        Assert.Equal(["key_issued ", "key_changed public_keys"], await bed.ListAsync(
            $"""
            select kind || ' ' || coalesce(note, '') from access_records
             where subject_id = '{id}' and kind in ('key_issued', 'key_changed') order by id
            """));
        // Its list says what it is called by, and replaces no secret it does not have.
        var list = await administrator.GetStringAsync("/access/keys", IntakeBed.Ct);
        Assert.Contains(id, list, StringComparison.Ordinal);
        Assert.DoesNotContain("handler=Replace", list, StringComparison.Ordinal);
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        Assert.Equal("/denied", (await coordinator.GetAsync(page, IntakeBed.Ct)).Headers.Location!.AbsolutePath);

        Task<HttpResponseMessage> RegisterAsync(string keys) => SessionsTests.PostAsync(administrator, "/access/keys", "",
            ("Site", "harbour"), ("Name", "ward"), ("Scope", "SendAndRead"), ("Until", "2027-01-31"), ("PublicKeys", keys));
    }

    private static string[] Texts(JsonElement of, string name) => [.. of.GetProperty(name).EnumerateArray().Select(e => e.GetString()!)];

    private static HttpClient Bearing(IntakeBed bed, string token)
    {
        var client = SignedIn.Nobody(bed);
        client.DefaultRequestHeaders.Authorization = new("Bearer", token);
        return client;
    }

    private static async Task<HttpStatusCode> SendAsync(HttpClient client)
    {
        using var body = new StringContent(Row, Encoding.UTF8, "text/csv");
        using var answer = await client.PostAsync("/api/v1/submissions", body, IntakeBed.Ct);
        return answer.StatusCode;
    }
}
