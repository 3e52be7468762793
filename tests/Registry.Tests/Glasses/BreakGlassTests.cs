using System.Net;
using Microsoft.Extensions.DependencyInjection;
using Npgsql;
using Registry.Access;
using Registry.Records;
using Registry.Tests.Access;
using Registry.Tests.Intake;

namespace Registry.Tests.Glasses;

/// <summary>Breaking the glass: one record, for a reason and a while, told to the coordinators; and nothing for whoever guesses.</summary>
public sealed class BreakGlassTests(TestDatabase database)
{
    private const string Rows =
        """
        kind,record_number,card_id,birth_date,sex,birth_order,plurality,mother_given_name,mother_family_name,mother_birth_date
        birth,HARBOUR-1,CARD-1,2026-09-01,female,1,2,Ada,Marlow,1995-02-03
        birth,HARBOUR-2,CARD-2,2026-09-01,male,2,2,Ada,Marlow,1995-02-03

        """;

    private static readonly (string, string)[] Right =
    [
        ("Form.Number", "CARD-1"), ("Form.BornOn", "2026-09-01"), ("Form.MotherFamilyName", "marlow"), ("Form.Reason", "infant_is_here"),
        ("Form.Words", "Rescreen today, transfer letter of Marlow in hand"),
    ];

    [Fact]
    public async Task Right_details_open_one_record_to_be_read_and_everybody_sees_that()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Rows);
        var (one, twin) = (await CaseWorkerTests.IdAsync(bed, "HARBOUR-1"), await CaseWorkerTests.IdAsync(bed, "HARBOUR-2"));
        var person = await bed.AddPersonAsync(Role.Screener, bed.Hill);
        using var screener = await InAsync(bed, person);
        using var colleague = await SignedIn.AsAsync(bed, Role.Screener, bed.Hill);
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        Assert.Equal(HttpStatusCode.NotFound, (await screener.GetAsync($"/infants/{one}", IntakeBed.Ct)).StatusCode);
        using (var opened = await BreakAsync(screener, Right)) Assert.Equal($"/infants/{one}", opened.Headers.Location!.OriginalString);

        var record = WebUtility.HtmlDecode(await screener.GetStringAsync($"/infants/{one}", IntakeBed.Ct));
        Assert.Contains("Opened by breaking the glass", record, StringComparison.Ordinal);
        Assert.DoesNotContain("Record a contact attempt", record, StringComparison.Ordinal);
        Assert.Contains("HARBOUR-1", await screener.GetStringAsync("/infants", IntakeBed.Ct), StringComparison.Ordinal);
        // That one, to them: no twin, no colleague, and no fact that would show it for good.
        Assert.Equal(HttpStatusCode.NotFound, (await screener.GetAsync($"/infants/{twin}", IntakeBed.Ct)).StatusCode);
        Assert.Equal(HttpStatusCode.NotFound, (await colleague.GetAsync($"/infants/{one}", IntakeBed.Ct)).StatusCode);
        using (var attempt = await SignedIn.SendFormAsync(screener, $"/infants/{one}?handler=Contact", ("Step", "Screening"),
            ("Outcome", "Reached"), ("AttemptedOn", $"{bed.App.Today:yyyy-MM-dd}")))
            Assert.Equal(HttpStatusCode.NotFound, attempt.StatusCode);
        Assert.Equal(0, await bed.CountAsync("contacts"));
        Assert.Equal(0, await bed.CountAsync($"infant_sites where site_id = '{bed.Hill.Value}'"));

        foreach (var page in new[] { "/glasses", $"/infants/{one}" })
        {
            var said = WebUtility.HtmlDecode(await coordinator.GetStringAsync(page, IntakeBed.Ct));
            Assert.Contains("Screener, screener of Hill Audiology", said, StringComparison.Ordinal);
            Assert.Contains("The child is here now", said, StringComparison.Ordinal);
            Assert.Contains("transfer letter of Marlow", said, StringComparison.Ordinal);
        }

        Assert.DoesNotContain("Rescreen today", await colleague.GetStringAsync("/glasses", IntakeBed.Ct), StringComparison.Ordinal);
        // In the database the own words are encrypted, and the trail says who, whose and why by code.
        Assert.Empty(await bed.ListAsync("select 1 from opened_glasses where words like '%Marlow%' or words not like 'enc:%'"));
        Assert.Equal([$"infant_is_here {one}"], await bed.ListAsync(
            "select concat_ws(' ', note, infant_id) from access_records where kind = 'glass_broken' and person_id = $1", person.Id));
    }

    [Fact]
    public async Task A_wrong_detail_an_unknown_number_and_one_try_too_many_are_answered_alike_and_the_right_one_opens_nothing_then()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Rows);
        await bed.DecidePolicyAsync(p => p with { GlassTries = 4 });
        var person = await bed.AddPersonAsync(Role.Screener, bed.Hill);
        using var screener = await InAsync(bed, person);
        var answers = new List<string>();
        foreach (var (field, value) in new[]
        {
            ("Form.Number", "CARD-999"), ("Form.BornOn", "2026-09-02"), ("Form.MotherFamilyName", "Quist"),
            ("Form.Number", "CARD-2' or 'a'='a"), // the fourth and last that is looked at
            ("Form.Words", "The right details, one try too many"), ("Form.Number", "CARD-2"),
        })
        {
            using var answer = await BreakAsync(screener, With(field, value));
            Assert.Equal(HttpStatusCode.OK, answer.StatusCode);
            answers.Add(SessionsText(await answer.Content.ReadAsStringAsync(IntakeBed.Ct)));
        }

        Assert.Single(answers.Distinct());
        Assert.Contains("Nothing was opened", answers[0], StringComparison.Ordinal);
        Assert.Equal(0, await bed.CountAsync("opened_glasses"));
        Assert.Equal(6, await bed.CountAsync(
            $"access_records where kind = 'glass_refused' and person_id = '{person.Id}' and infant_id is null"));
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        Assert.Contains("tried 6 times in a day", await coordinator.GetStringAsync("/glasses", IntakeBed.Ct), StringComparison.Ordinal);
        // Another's tries are their own.
        using var colleague = await SignedIn.AsAsync(bed, Role.Screener, bed.Hill);
        using var opened = await BreakAsync(colleague, Right);
        Assert.Equal(HttpStatusCode.Redirect, opened.StatusCode);
    }

    [Fact]
    public async Task A_hundred_tries_at_once_are_looked_at_one_after_the_other()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Rows);
        await bed.DecidePolicyAsync(p => p with { GlassTries = 3 });
        using var screener = await InAsync(bed, await bed.AddPersonAsync(Role.Screener, bed.Hill));
        var token = await SignedIn.TokenAsync(screener, "/glasses");
        // The right card among wrong ones, from the thirtieth on.
        var answers = await Task.WhenAll(Enumerable.Range(0, 30).Select(async i =>
        {
            using var form = new FormUrlEncodedContent(With("Form.Number", $"CARD-{100 + i}").Append(("__RequestVerificationToken", token))
                .Select(f => new KeyValuePair<string, string>(f.Item1, f.Item2)));
            using var answer = await screener.PostAsync("/glasses", form, IntakeBed.Ct);
            return answer.StatusCode;
        }));
        Assert.All(answers, a => Assert.Equal(HttpStatusCode.OK, a));
        using var right = await BreakAsync(screener, Right);
        Assert.Equal(HttpStatusCode.OK, right.StatusCode);
        Assert.Equal(0, await bed.CountAsync("opened_glasses"));
        Assert.Equal(31, await bed.CountAsync("access_records where kind = 'glass_refused'"));
    }

    [Fact]
    public async Task What_is_not_filled_in_is_no_try_and_only_those_it_is_for_may()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Rows);
        using (var screener = await InAsync(bed, await bed.AddPersonAsync(Role.Screener, bed.Hill)))
            foreach (var (field, value) in new[]
            {
                ("Form.Number", " "), ("Form.BornOn", "yesterday"), ("Form.Reason", "curious"), ("Form.Words", ""),
            })
                using (var answer = await BreakAsync(screener, With(field, value)))
                    Assert.Contains("Fill in everything", await answer.Content.ReadAsStringAsync(IntakeBed.Ct), StringComparison.Ordinal);
        foreach (var role in new[] { Role.VitalRecords, Role.Coordinator, Role.Administrator, Role.Auditor, Role.Epidemiologist })
        {
            using var client = await SignedIn.AsAsync(bed, role, Permissions.NeedsSite(role) ? bed.Hill : null);
            using var answer = await SignedIn.SendFormAsync(client, "/glasses", Right);
            Assert.Equal("/denied", answer.Headers.Location!.AbsolutePath);
        }

        Assert.Equal(0, await bed.CountAsync("opened_glasses"));
        Assert.Equal(0, await bed.CountAsync("access_records where kind = 'glass_refused'"));
    }

    [Fact]
    public async Task A_glass_that_ran_out_was_closed_or_is_somebody_elses_opens_nothing_on_a_page_or_beneath()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Rows);
        var one = await CaseWorkerTests.IdAsync(bed, "HARBOUR-1");
        var person = await bed.AddPersonAsync(Role.Screener, bed.Hill);
        using var screener = await InAsync(bed, person);
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);

        // Ran out a minute ago.
        await bed.ListAsync(
            """
            insert into opened_glasses (id, infant_id, person_id, role, site_id, reason, words, opened_at, ends_at)
            values (gen_random_uuid(), $1, $2, 'screener', $3, 'other', '', now() - interval '8 hours', now() - interval '1 minute')
            returning 1
            """, Guid.Parse(one), person.Id, bed.Hill.Value);
        Assert.Equal(HttpStatusCode.NotFound, (await screener.GetAsync($"/infants/{one}", IntakeBed.Ct)).StatusCode);

        using (await BreakAsync(screener, Right)) { }
        Assert.Equal(HttpStatusCode.OK, (await screener.GetAsync($"/infants/{one}", IntakeBed.Ct)).StatusCode);
        var glass = (await bed.ListAsync("select id from opened_glasses where ends_at > now()"))[0];
        using var stranger = await SignedIn.AsAsync(bed, Role.Screener, bed.Hill);
        using (await SignedIn.SendFormAsync(stranger, "/glasses?handler=Close", ("id", glass))) { }
        Assert.Equal(HttpStatusCode.OK, (await screener.GetAsync($"/infants/{one}", IntakeBed.Ct)).StatusCode);

        // In another of their places it opens nothing.
        await bed.ListAsync("insert into person_places (id, person_id, role, site_id, since) "
            + "values (gen_random_uuid(), $1, 'audiology_clinic', $2, now()) returning 1", person.Id, bed.Hill.Value);
        var place = (await bed.ListAsync("select id from person_places"))[0];
        using (await SignedIn.SendFormAsync(screener, "/access/own?handler=Work", ("place", place))) { }
        Assert.Equal(HttpStatusCode.NotFound, (await screener.GetAsync($"/infants/{one}", IntakeBed.Ct)).StatusCode);
        await bed.ListAsync("delete from person_places returning 1");
        Assert.Equal(HttpStatusCode.OK, (await screener.GetAsync($"/infants/{one}", IntakeBed.Ct)).StatusCode);

        var viewer = new Viewer(person.Id, null, Role.Screener, bed.Hill, "") { Glasses = [Guid.Parse(glass)] };
        Assert.Equal(1, await BeneathAsync(bed, viewer));
        Assert.Equal(0, await BeneathAsync(bed, viewer with { Glasses = [] }));
        Assert.Equal(0, await BeneathAsync(bed, viewer with { Glasses = [Guid.NewGuid()] }));
        using (await SignedIn.SendFormAsync(coordinator, "/glasses?handler=Close", ("id", glass))) { }
        Assert.Equal(HttpStatusCode.NotFound, (await screener.GetAsync($"/infants/{one}", IntakeBed.Ct)).StatusCode);
        Assert.Equal(0, await BeneathAsync(bed, viewer)); // even with the key that was
        Assert.Equal(1, await bed.CountAsync($"access_records where kind = 'glass_closed' and subject_id = '{glass}'"));
        foreach (var sql in new[] { "update opened_glasses set ends_at = now() + interval '1 day'", "delete from opened_glasses",
            "update opened_glasses set ended_at = null" })
            await Assert.ThrowsAsync<PostgresException>(() => bed.ListAsync(sql));
    }

    [Fact]
    public async Task A_session_that_was_open_before_the_person_was_moved_or_disabled_sees_nothing_by_the_glass()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Rows);
        var one = await CaseWorkerTests.IdAsync(bed, "HARBOUR-1");
        var tarn = await bed.AddSiteAsync("tarn", SiteKind.Hospital);
        var person = await bed.AddPersonAsync(Role.CaseWorker, null, "Mere");
        using var worker = await InAsync(bed, person);
        using (await BreakAsync(worker, Right)) { }
        Assert.Equal(HttpStatusCode.OK, (await worker.GetAsync($"/infants/{one}", IntakeBed.Ct)).StatusCode);
        await bed.ListAsync("update people set role = 'screener', site_id = $2, counties = '{}' where id = $1 returning 1",
            person.Id, tarn.Value);
        Assert.Equal(HttpStatusCode.NotFound, (await worker.GetAsync($"/infants/{one}", IntakeBed.Ct)).StatusCode);
        await bed.ListAsync("update people set disabled_at = now() where id = $1 returning 1", person.Id);
        Assert.Equal(HttpStatusCode.Redirect, (await worker.GetAsync($"/infants/{one}", IntakeBed.Ct)).StatusCode);
    }

    /// <summary>A screener of Hill opens a record of Harbour.</summary>
    internal static async Task OpenOneAsync(IntakeBed bed)
    {
        await bed.SendAsync(Rows);
        using var screener = await InAsync(bed, await bed.AddPersonAsync(Role.Screener, bed.Hill));
        using var opened = await BreakAsync(screener, Right);
        Assert.Equal(HttpStatusCode.Redirect, opened.StatusCode);
    }

    private static async Task<long> BeneathAsync(IntakeBed bed, Viewer viewer)
    {
        await using var connection = await bed.App.Services.GetRequiredService<ViewerDatabase>().OpenAsync(viewer, IntakeBed.Ct);
        await using var command = new NpgsqlCommand("select count(*) from births", connection);
        return (long)(await command.ExecuteScalarAsync(IntakeBed.Ct))!;
    }

    private static async Task<HttpClient> InAsync(IntakeBed bed, Person person)
    {
        var client = SignedIn.Nobody(bed);
        using (await SignedIn.PostAsync(client, person, IntakeBed.Password)) return client;
    }

    private static (string, string)[] With(string field, string value) => [.. Right.Select(f => f.Item1 == field ? (field, value) : f)];

    private static Task<HttpResponseMessage> BreakAsync(HttpClient client, (string, string)[] fields) =>
        SessionsTests.PostAsync(client, "/glasses", "", fields);

    /// <summary>The page without the tokens of its forms.</summary>
    private static string SessionsText(string page) => System.Text.RegularExpressions.Regex.Replace(page, "value=\"CfDJ8[^\"]+\"", "");
}
