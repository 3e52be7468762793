using System.Net;
using System.Reflection;
using System.Text.RegularExpressions;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Microsoft.AspNetCore.Routing;
using Microsoft.EntityFrameworkCore;
using Microsoft.Extensions.DependencyInjection;
using Npgsql;
using Registry.Access;
using Registry.Records;
using Registry.Tests.Intake;

namespace Registry.Tests.Access;

/// <summary>Default deny, one visibility rule, every read recorded; over HTTP, as a stranger would meet it.</summary>
public sealed partial class WhoSeesWhatTests(TestDatabase database)
{
    private const string OfHarbour =
        """
        kind,record_number,birth_date,sex,mother_given_name,mother_family_name,mother_birth_date,ear,outcome,method,performed_at
        birth,HARBOUR-1,2026-09-01,female,Ada,Marlow,1995-02-03,,,,
        screening,HARBOUR-1,,,,,,right,pass,aabr,2026-09-02T09:15
        screening,HARBOUR-1,,,,,,left,refer,aabr,2026-09-02T09:20

        """;

    [Theory]
    [InlineData("/")]
    [InlineData("/infants")]
    [InlineData("/infants?handler=csv")]
    [InlineData("/follow-up")]
    [InlineData("/sites")]
    [InlineData("/submissions")]
    [InlineData("/access/keys")]
    [InlineData("/policy")]
    [InlineData("/infants/0192f0c1-0000-7000-8000-000000000000")]
    [InlineData("/no-such-page")]
    public async Task Anonymous_visitors_are_sent_to_sign_in(string path)
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var answer = await SignedIn.Nobody(bed).GetAsync(path, IntakeBed.Ct);
        Assert.Equal(HttpStatusCode.Redirect, answer.StatusCode);
        Assert.Equal("/sign-in", answer.Headers.Location!.AbsolutePath);
    }

    [Fact]
    public async Task Each_role_sees_the_infants_of_its_line_and_no_others()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(OfHarbour);
        var id = Guid.Parse((await bed.ListAsync("select id from infants"))[0]);

        foreach (var (role, site, sees) in new (Role, SiteId?, bool)[]
        {
            (Role.Coordinator, null, true), (Role.SiteManager, bed.Harbour, true), (Role.Screener, bed.Harbour, true),
            (Role.SiteManager, bed.Hill, false), (Role.Screener, bed.Hill, false),
            (Role.SiteManager, null, false), // a manager whose site is missing sees nothing, not everything
        })
        {
            var client = await SignedIn.AsAsync(bed, role, site);
            var who = $"{role} of {(site == bed.Harbour ? "harbour" : site == bed.Hill ? "hill" : "no site")}";
            foreach (var path in new[] { $"/infants/{id}", "/infants", "/infants?handler=csv", "/follow-up",
                "/follow-up?handler=csv" })
            {
                var answer = await client.GetAsync(path, IntakeBed.Ct);
                var text = await answer.Content.ReadAsStringAsync(IntakeBed.Ct);
                if (path.Contains(id.ToString(), StringComparison.Ordinal))
                    Assert.True(answer.IsSuccessStatusCode == sees, $"{who}: {path} {answer.StatusCode}");
                else Assert.True(answer.IsSuccessStatusCode && text.Contains("HARBOUR-1", StringComparison.Ordinal) == sees,
                    $"{who}: {path} {answer.StatusCode}");
            }
        }
    }

    [Fact]
    public async Task A_transfer_opens_the_record_to_the_site_that_receives_the_infant()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(OfHarbour);
        var id = new InfantId(Guid.Parse((await bed.ListAsync("select id from infants"))[0]));
        var client = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Hill);
        Assert.Equal(HttpStatusCode.NotFound, (await client.GetAsync($"/infants/{id}", IntakeBed.Ct)).StatusCode);

        await using var db = bed.App.OpenDb();
        var transfer = new TransferRecord
        {
            Id = Guid.CreateVersion7(),
            InfantId = id,
            SiteId = bed.Harbour,
            RecordedAt = bed.Now,
            TransferredOn = new(2026, 10, 1),
            ToSiteId = bed.Hill
        };
        db.Transfers.Add(transfer);
        await db.SaveChangesAsync(IntakeBed.Ct);
        Assert.Equal(HttpStatusCode.OK, (await client.GetAsync($"/infants/{id}", IntakeBed.Ct)).StatusCode);

        transfer.SupersededAt = bed.Now;
        await db.SaveChangesAsync(IntakeBed.Ct);
        Assert.Equal(HttpStatusCode.NotFound, (await client.GetAsync($"/infants/{id}", IntakeBed.Ct)).StatusCode);
    }

    [Fact]
    public async Task Reads_are_recorded_and_cannot_be_changed()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(OfHarbour);
        var id = (await bed.ListAsync("select id from infants"))[0];
        var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        await client.GetAsync($"/infants/{id}", IntakeBed.Ct);
        await client.GetAsync("/infants", IntakeBed.Ct);
        await client.GetAsync("/infants?handler=csv", IntakeBed.Ct);

        Assert.Equal(
            [$"GET /infants/{{id:guid}} {id} 1", "GET /infants  1", "GET /infants  1"],
            await bed.ListAsync("select concat(action, ' ', infant_id, ' ', infant_count) from access_records "
                + "where kind = 'read' order by id"));
        var page = await client.GetStringAsync($"/infants/{id}/reads", IntakeBed.Ct);
        Assert.Contains("Coordinator", page, StringComparison.Ordinal);
        await Assert.ThrowsAsync<PostgresException>(() => bed.ListAsync("delete from access_records returning id"));
        await Assert.ThrowsAsync<PostgresException>(() => bed.ListAsync("update access_records set infant_count = 0 returning id"));
    }

    [Theory]
    [InlineData(Role.Administrator, "/access/keys", "/access/people", "/operations", "/jobs")]
    [InlineData(Role.Coordinator, "/infants/{id}", "/infants/{id}/reads", "/access/trail", "/infants", "/outreach", "/api/v1/export/facts")]
    [InlineData(Role.Auditor, "/infants/{id}/reads", "/access/trail")]
    [InlineData(Role.SiteManager, "/infants/{id}", "/infants", "/submissions/mappings")]
    [InlineData(Role.Screener, "/infants/{id}", "/infants")]
    public async Task Each_role_reaches_what_is_its_own_and_nothing_else(Role role, params string[] own)
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(OfHarbour);
        var id = (await bed.ListAsync("select id from infants"))[0];
        var client = await SignedIn.AsAsync(bed, role, role is Role.SiteManager or Role.Screener ? bed.Harbour : null);
        foreach (var path in new[] { "/access/keys", "/access/people", "/operations", "/jobs", "/infants/{id}", "/infants/{id}/reads",
            "/access/trail", "/infants", "/outreach", "/api/v1/export/facts", "/submissions/mappings" })
        {
            using var answer = await client.GetAsync(path.Replace("{id}", id, StringComparison.Ordinal), IntakeBed.Ct);
            var expected = own.Contains(path) || (role == Role.Coordinator && path == "/submissions/mappings");
            Assert.True(answer.IsSuccessStatusCode == expected, $"{role}: {path} {answer.StatusCode}");
            if (expected) continue;
            if (path.StartsWith("/api", StringComparison.Ordinal)) Assert.Equal(HttpStatusCode.Forbidden, answer.StatusCode);
            else Assert.Equal("/denied", answer.Headers.Location!.AbsolutePath);
        }
    }

    [Fact]
    public async Task An_auditor_sees_who_looked_and_no_name_of_an_infant()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(OfHarbour);
        var id = (await bed.ListAsync("select id from infants"))[0];
        using (var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null))
            await coordinator.GetAsync($"/infants/{id}", IntakeBed.Ct);
        var auditor = await SignedIn.AsAsync(bed, Role.Auditor, null);
        foreach (var path in new[] { "/access/trail", $"/infants/{id}/reads" })
        {
            var page = await auditor.GetStringAsync(path, IntakeBed.Ct);
            Assert.Contains("GET /infants/{id:guid}", page, StringComparison.Ordinal);
            Assert.DoesNotContain("Marlow", page, StringComparison.Ordinal);
            Assert.DoesNotContain("HARBOUR-1", page, StringComparison.Ordinal);
        }
    }

    [Fact]
    public async Task A_site_key_opens_no_page_and_a_revoked_key_opens_nothing()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await using var scope = bed.App.Services.CreateAsyncScope();
        var keys = scope.ServiceProvider.GetRequiredService<SiteKeys>();
        var find = scope.ServiceProvider.GetRequiredService<FindSiteKey>();
        var (key, secret) = await keys.IssueAsync(bed.Harbour, "ward system", IntakeBed.Ct);
        var client = SignedIn.Nobody(bed);
        client.DefaultRequestHeaders.Authorization = new("Bearer", secret);

        Assert.Equal(HttpStatusCode.Forbidden, (await client.GetAsync("/infants", IntakeBed.Ct)).StatusCode);
        Assert.NotNull(await find.ForAsync(secret));
        Assert.True(await keys.RevokeAsync(key.Id, IntakeBed.Ct));
        Assert.False(await keys.RevokeAsync(key.Id, IntakeBed.Ct));
        Assert.Null(await find.ForAsync(secret));
        var refused = await client.GetAsync("/infants", IntakeBed.Ct);
        Assert.Equal(HttpStatusCode.Unauthorized, refused.StatusCode);
        Assert.Equal("application/problem+json", refused.Content.Headers.ContentType?.MediaType);
        Assert.DoesNotContain(secret, string.Join("", await bed.ListAsync("select row_to_json(k) from site_keys k")),
            StringComparison.Ordinal);
    }

    /// <summary>No lock, which anyone could hold: a wait that grows (SignInLimitsTests).</summary>
    [Fact]
    public async Task After_wrong_passwords_the_right_one_must_wait_too()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var person = await bed.AddPersonAsync(Role.Coordinator);
        for (var i = 0; i < 12; i++)
            Assert.Equal(HttpStatusCode.OK, (await SignedIn.PostAsync(SignedIn.Nobody(bed), person, "wrong")).StatusCode);
        Assert.Equal(HttpStatusCode.OK, (await SignedIn.PostAsync(SignedIn.Nobody(bed), person, IntakeBed.Password)).StatusCode);
    }

    [Fact]
    public async Task A_return_address_elsewhere_is_not_followed()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var person = await bed.AddPersonAsync(Role.Coordinator);
        var answer = await SignedIn.PostAsync(
            SignedIn.Nobody(bed), person, IntakeBed.Password, "?returnTo=https%3A%2F%2Felsewhere.example%2F");
        Assert.Equal("/", answer.Headers.Location!.OriginalString);
    }

    [Fact]
    public async Task Answers_carry_the_protective_headers_and_forms_need_their_token()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var client = SignedIn.Nobody(bed);
        var answer = await client.GetAsync("/sign-in", IntakeBed.Ct);
        Assert.Contains("frame-ancestors 'none'", answer.Headers.GetValues("Content-Security-Policy").Single(), StringComparison.Ordinal);
        Assert.DoesNotContain("unsafe", answer.Headers.GetValues("Content-Security-Policy").Single(), StringComparison.Ordinal);
        // OWASP Secure Headers Project, "response headers" list (from memory); HSTS is shown behind the proxy, Clear-Site-Data at signing
        // out.
        foreach (var (name, value) in new[]
        {
            ("X-Frame-Options", "DENY"), ("X-Permitted-Cross-Domain-Policies", "none"), ("Cross-Origin-Embedder-Policy", "require-corp"),
            ("Cross-Origin-Opener-Policy", "same-origin"), ("Cross-Origin-Resource-Policy", "same-origin"),
        }) Assert.Equal(value, answer.Headers.GetValues(name).Single());
        Assert.True(answer.Headers.Contains("Permissions-Policy"));
        // And of those it says to remove.
        foreach (var name in new[] { "Server", "X-Powered-By", "X-AspNet-Version", "X-AspNetMvc-Version" })
            Assert.False(answer.Headers.Contains(name), name);
        Assert.Equal("nosniff", answer.Headers.GetValues("X-Content-Type-Options").Single());
        Assert.Equal("no-referrer", answer.Headers.GetValues("Referrer-Policy").Single());
        Assert.True(answer.Headers.CacheControl!.NoStore);
        var forged = await client.PostAsync("/sign-in", new FormUrlEncodedContent([new("Email", "a@b.c"), new("Password", "x")]),
            IntakeBed.Ct);
        Assert.Equal(HttpStatusCode.BadRequest, forged.StatusCode);
    }

    [Fact]
    public async Task Only_these_endpoints_let_anonymous_callers_in()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var open = bed.App.Services.GetRequiredService<EndpointDataSource>().Endpoints.OfType<RouteEndpoint>()
            .Where(e => e.Metadata.GetMetadata<IAllowAnonymous>() is not null)
            .Select(e => e.RoutePattern.RawText!.TrimStart('/'))
            .Where(p => !StaticFile().IsMatch(p)).Distinct().Order().ToList();
        Assert.Empty(open.Except(
            ["sign-in", "sign-out", "problem/{status:int}", "openapi/{documentName}.json", "health", "healthz", "health/live",
            "health/ready",
            "stop/{token}", "fhir/metadata",
            // An empty frame, the same for everybody: a phone fills it with what is encrypted on it.
            "ward/offline",
            // Who holds the link, and who showed a password and not yet the second factor; each asks for that itself.
            "setup/link/{token}", "password/{token}", "answer/{token}", "sign-in/second-factor", "sign-in/new-second-factor",
            // Who signs an assertion, where that is said, and who is sent to the provider to sign in.
            "oauth/token", "fhir/.well-known/smart-configuration", "sign-in/openid"]));
    }

    [Fact]
    public void Every_page_that_asks_for_statuses_of_infants_is_marked_as_showing_them()
    {
        // A page whose handlers are given AuditReads shows infants and must say so, or nothing checks that it recorded.
        var offenders = typeof(Program).Assembly.GetTypes().Where(t => typeof(PageModel).IsAssignableFrom(t))
            .Where(t => t.GetConstructors().Any(c => c.GetParameters().Any(p => p.ParameterType == typeof(AuditReads)))
                && t.GetCustomAttribute<ShowsInfantsAttribute>() is null)
            .Select(t => t.FullName);
        Assert.Empty(offenders);
    }

    [GeneratedRegex(@"\.(css|js|svg|map|gz|br|ico|csv)$|^\{\*\*path")]
    private static partial Regex StaticFile();
}
