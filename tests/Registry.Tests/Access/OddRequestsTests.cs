using System.Collections.Concurrent;
using System.Net;
using Registry.Access;
using Registry.Records;
using Registry.Tests.Intake;
using Registry.Tests.Intake.HeldRows;

namespace Registry.Tests.Access;

/// <summary>Every endpoint asked with what no honest caller sends: it answers that it does not understand, never that it failed.</summary>
public sealed class OddRequestsTests(TestDatabase database)
{
    private const string Rows =
        """
        kind,record_number,birth_date,sex,mother_given_name,mother_family_name,mother_birth_date,ear,outcome,method,performed_at,probe
        birth,HARBOUR-1,2026-09-01,female,Ada,Marlow,1995-02-03,,,,,
        screening,HARBOUR-1,,,,,,right,pass,aabr,2026-09-02T09:15,P9

        """;

    private static readonly string[] Values =
    [
        "\0", "a\0b", "0001-01-01", "1066-10-14", "9999-12-31", "12345-01-01", "-1", "99999999999999999999", "%00", "'\"<>", "\uFFFF",
    ];

    [Fact]
    public async Task A_query_nobody_can_read_is_answered_400_or_as_if_it_were_not_there()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Rows);
        var ask = await AskersAsync(bed);
        var cases = (await Routes.OfAsync(bed, await Routes.SamplesAsync(bed))).Where(r => r.Verb == "GET")
            .SelectMany(r => r.Parameters.SelectMany(p => Values.Select(v => (r, p, v)))).ToList();
        var failed = new ConcurrentBag<string>();
        await Parallel.ForEachAsync(cases, new ParallelOptions { MaxDegreeOfParallelism = 4, CancellationToken = IntakeBed.Ct },
            async (one, ct) =>
            {
                var (route, parameter, value) = one;
                using var answer = await ask(route).GetAsync($"{route.Path}?{parameter}={Uri.EscapeDataString(value)}", ct);
                if ((int)answer.StatusCode >= 500 || (value.Contains('\0') && answer.StatusCode != HttpStatusCode.BadRequest))
                    failed.Add($"{(int)answer.StatusCode} {route.Pattern}?{parameter}={Uri.EscapeDataString(value)}");
            });
        Assert.True(failed.IsEmpty, $"{failed.Count} of {cases.Count}:\n{string.Join('\n', failed.Order())}");
        Assert.True(cases.Count > 1_000, $"{cases.Count}");
    }

    [Fact]
    public async Task A_verb_nobody_answers_is_told_so_on_every_route()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Rows);
        var ask = await AskersAsync(bed);
        var token = new Dictionary<HttpClient, string>();
        var failed = new List<string>();
        foreach (var route in (await Routes.OfAsync(bed, await Routes.SamplesAsync(bed))).DistinctBy(r => r.Pattern))
        {
            var client = ask(route);
            if (!token.TryGetValue(client, out var form)) token[client] = form = await SignedIn.TokenAsync(client, "/access/own");
            foreach (var verb in new[] { "PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "PROPFIND", "BREW", "HEAD", "POST" })
            {
                using var request = new HttpRequestMessage(new(verb), route.Path);
                request.Headers.Add("X-Registry-Form", form);
                using var answer = await client.SendAsync(request, IntakeBed.Ct);
                if ((int)answer.StatusCode >= 500 || (verb is "PUT" or "DELETE" or "PATCH" or "BREW" && answer.IsSuccessStatusCode))
                    failed.Add($"{verb} {route.Pattern}: {(int)answer.StatusCode}");
            }
        }

        Assert.True(failed.Count == 0, string.Join('\n', failed));
    }

    [Fact]
    public async Task An_id_that_is_none_is_not_found_and_stands_in_no_log()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Rows);
        var ask = await AskersAsync(bed);
        var failed = new List<string>();
        foreach (var route in (await Routes.OfAsync(bed, await Routes.SamplesAsync(bed)))
            .Where(r => r.Verb == "GET" && r.Pattern.Contains('{') && !r.Pattern.StartsWith("/problem", StringComparison.Ordinal)))
        {
            foreach (var id in new[] { "marlow-ada", "-1", "99999999999999999999", "..%2f..", "%ff%fe",
                "00000000-0000-0000-0000-000000000000", new string('9', 3_000) })
            {
                var path = System.Text.RegularExpressions.Regex.Replace(route.Pattern, @"\{[^}]*\}", id);
                using var answer = await ask(route).GetAsync(path, IntakeBed.Ct);
                var answersAnyToken = route.Pattern.StartsWith("/stop", StringComparison.Ordinal);
                if ((int)answer.StatusCode >= 500 || (answer.IsSuccessStatusCode && !answersAnyToken))
                    failed.Add($"{(int)answer.StatusCode} {path[..Math.Min(path.Length, 80)]}");
            }
        }

        Assert.True(failed.Count == 0, string.Join('\n', failed));
        // What is recorded of a read is the pattern, never what was asked.
        Assert.Empty(await bed.ListAsync("select action from access_records where action like '%marlow%' or action like '%9999%'"));
    }

    /// <summary>The server itself refuses it, before anybody is asked; only a real one shows that.</summary>
    [Fact]
    public async Task An_id_with_a_NUL_is_refused_on_every_route()
    {
        await using var bed = await IntakeBed.StartAsync(database, listen: true);
        await bed.SendAsync(Rows);
        using var client = new HttpClient { BaseAddress = new(bed.App.Address) };
        foreach (var route in (await Routes.OfAsync(bed, await Routes.SamplesAsync(bed))).Where(r => r.Pattern.Contains('{')))
        {
            foreach (var id in new[] { "%00", "x%00y" })
            {
                var path = System.Text.RegularExpressions.Regex.Replace(route.Pattern, @"\{[^}]*\}", id);
                using var request = new HttpRequestMessage(new(route.Verb), path);
                using var answer = await client.SendAsync(request, IntakeBed.Ct);
                Assert.Equal(HttpStatusCode.BadRequest, answer.StatusCode);
            }
        }
    }

    [Fact]
    public async Task A_form_with_a_text_no_database_keeps_is_refused()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var administrator = await SignedIn.AsAsync(bed, Role.Administrator, null);
        using var answer = await SessionsTests.PostAsync(administrator, "/access/people", "",
            ("Email", "a@b.example"), ("Name", "a\0b"), ("Role", "coordinator"));
        Assert.Equal(HttpStatusCode.BadRequest, answer.StatusCode);
        using var client = SignedIn.Nobody(bed);
        using var signIn = await SessionsTests.PostAsync(client, "/sign-in", "", ("Email", "a\0b@c.example"), ("Password", "x"));
        Assert.Equal(HttpStatusCode.BadRequest, signIn.StatusCode);
    }

    /// <summary>The pages of the jobs library are not ours and are one endpoint to routing: each is asked, by the library's own
    /// list.</summary>
    [Fact]
    public async Task No_page_of_the_jobs_library_fails_or_answers_an_odd_verb()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var administrator = await SignedIn.AsAsync(bed, Role.Administrator, null);
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        administrator.DefaultRequestHeaders.Add("Sec-Fetch-Site", "same-origin");
        coordinator.DefaultRequestHeaders.Add("Sec-Fetch-Site", "same-origin");
        var patterns = Routes.OfJobs();
        Assert.True(patterns.Count > 20, $"{patterns.Count}");
        var failed = new List<string>();
        foreach (var pattern in patterns)
        {
            foreach (var value in new[] { "1", "default", "marlow", "-1", "99999999999999999999", "%27%22%3C%3E" })
            {
                var path = "/jobs" + Routes.Filled(pattern, value);
                foreach (var query in new[] { "", "?from=-1&count=0", "?from=99999999999999999999&count=marlow", "?period=%27" })
                {
                    using var shown = await administrator.GetAsync(path + query, IntakeBed.Ct);
                    if ((int)shown.StatusCode >= 500) failed.Add($"GET {path}{query}: {(int)shown.StatusCode}");
                }

                using var unreadable = await administrator.GetAsync(path + "?from=%00", IntakeBed.Ct);
                if (unreadable.StatusCode != HttpStatusCode.BadRequest) failed.Add($"NUL {path}: {(int)unreadable.StatusCode}");
                foreach (var verb in new[] { "PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "PROPFIND", "BREW" })
                {
                    using var request = new HttpRequestMessage(new(verb), path);
                    using var answer = await administrator.SendAsync(request, IntakeBed.Ct);
                    if (answer.StatusCode != HttpStatusCode.MethodNotAllowed) failed.Add($"{verb} {path}: {(int)answer.StatusCode}");
                }

                // Without the form's token.
                using var posted = await administrator.PostAsync(path, null, IntakeBed.Ct);
                if (posted.IsSuccessStatusCode || (int)posted.StatusCode >= 500) failed.Add($"POST {path}: {(int)posted.StatusCode}");
                foreach (var act in new[] { HttpMethod.Get, HttpMethod.Post })
                {
                    using var request = new HttpRequestMessage(act, path);
                    using var denied = await coordinator.SendAsync(request, IntakeBed.Ct);
                    if (!WaitingRowsForms.IsDenied(denied)) failed.Add($"coordinator {act} {path}: {(int)denied.StatusCode}");
                }
            }
        }

        Assert.True(failed.Count == 0, string.Join('\n', failed.Distinct()));

        // With the token it goes on working as the library means it.
        using var figures = new HttpRequestMessage(HttpMethod.Post, "/jobs/stats");
        figures.Headers.Add("X-Registry-Form", await SignedIn.TokenAsync(administrator, "/access/own"));
        figures.Content = new FormUrlEncodedContent([new("metrics[]", "servers:count")]);
        using var told = await administrator.SendAsync(figures, IntakeBed.Ct);
        Assert.Equal(HttpStatusCode.OK, told.StatusCode);
    }

    /// <summary>For each route somebody whom it lets in.</summary>
    private static async Task<Func<Route, HttpClient>> AskersAsync(IntakeBed bed)
    {
        var administrator = await SignedIn.AsAsync(bed, Role.Administrator, null);
        var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        foreach (var client in new[] { administrator, coordinator }) client.DefaultRequestHeaders.Add("Sec-Fetch-Site", "same-origin");
        return route => route.Policies.Contains(Permissions.Administrator) ? administrator : coordinator;
    }
}
