using System.Net;
using Microsoft.Extensions.DependencyInjection;
using Npgsql;
using Registry.Infants.Statuses;
using Registry.Records;
using Registry.Tests.FollowUp;
using Registry.Tests.HandOffs;
using Registry.Tests.Intake;

namespace Registry.Tests.Searching;

/// <summary>Searching for a family that was lost: what the registry itself shows, what is written down, and closing the work. The program's
/// today is 25 November 2026; W-4, born in January, is lost.</summary>
public sealed class SearchTests(TestDatabase database)
{
    private const string Header =
        "kind,record_number,card_id,birth_date,sex,birth_order,plurality,infant_given_name,mother_given_name,mother_family_name,mother_birth_date,contact_phone\n";

    [Fact]
    public async Task What_may_be_of_the_same_child_or_family_is_shown_with_what_agrees_and_a_strangers_is_not()
    {
        await using var bed = await WorkBed.StartAsync(database, rows: WorkBed.Family("W-4", "2026-01-10", "Lost", phone: "555-0177"));
        var (infant, tarn) = (await WorkBed.IdAsync(bed, "W-4"), await bed.AddSiteAsync("tarn", SiteKind.Hospital));
        var mother = (await bed.ListAsync("select mother_born_on::text from births"))[0];
        await bed.SendAsync(Header
            + "birth,T-1,,2026-01-10,female,,,Ilsa,Bea,Foster,1980-01-01,555-0177\n"   // the same child in a foster family
            + $"birth,T-2,,2026-11-02,male,,,Tom,Ada,Newname,{mother},555-0179\n"       // a brother, with the newest number
            + $"birth,T-5,,2026-01-10,female,,,Ilse,Ada,Newname,{mother},555-0178\n"    // another surname: too like to be another infant
            + "birth,T-3,,2024-05-01,female,,,Ann,Beth,Aunt,1990-01-01,555-0177\n"      // the same telephone
            + "birth,T-4,,2026-01-10,female,,,Eve,Zoe,Lost,1991-02-02,555-0180\n", tarn); // a stranger of that name and day
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var page = HandOffBed.Said(await coordinator.GetStringAsync($"/infants/{infant}/search", IntakeBed.Ct));
        var likely = page.Split("Other records")[1].Split("Rows that wait")[0];
        foreach (var said in new[] { "Perhaps the same child", "Ilsa", "Same birth date, phone", "Perhaps a brother or sister", "Tom",
            "Same mother's given name, mother's birth date", "Ann", "Same phone" })
            Assert.Contains(said, likely, StringComparison.Ordinal);
        Assert.Contains("row 3</a> of Site tarn, held since", page, StringComparison.Ordinal);
        Assert.DoesNotContain("Eve", page, StringComparison.Ordinal);
        Assert.True(likely.IndexOf("Ilsa", StringComparison.Ordinal) < likely.IndexOf("Tom", StringComparison.Ordinal));
        foreach (var phone in new[] { "555-0177", "555-0179" }) Assert.Contains(phone, page, StringComparison.Ordinal);
        Assert.DoesNotContain("555-0180", page, StringComparison.Ordinal);
        Assert.Contains("Harbour Hospital", page, StringComparison.Ordinal);

        // Who was shown is in the trail, each of them.
        foreach (var number in new[] { "W-4", "T-1", "T-2", "T-3" })
            Assert.NotEqual(0, await bed.CountAsync($"access_records where kind = 'read' and action like '%/search' "
                + $"and ('{await WorkBed.IdAsync(bed, number)}' = any (infants) or infant_id = '{await WorkBed.IdAsync(bed, number)}')"));

        // A site is shown its own: nothing of Tarn's, and no rows that wait.
        using var manager = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        page = HandOffBed.Said(await manager.GetStringAsync($"/infants/{infant}/search", IntakeBed.Ct));
        Assert.Contains("No other record has this card", page, StringComparison.Ordinal);
        foreach (var theirs in new[] { "Ilsa", "555-0179", "Rows that wait" })
            Assert.DoesNotContain(theirs, page, StringComparison.Ordinal);
    }

    [Fact]
    public async Task The_number_of_who_may_not_be_told_cannot_be_pressed()
    {
        await using var bed = await WorkBed.StartAsync(database, rows: WorkBed.Family("W-4", "2026-01-10", "Lost", phone: "555-0177"));
        var infant = await WorkBed.IdAsync(bed, "W-4");
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        Assert.Contains("tel:5550177", await PageAsync(), StringComparison.Ordinal);

        await bed.SendAsync("kind,record_number,relation,may_be_told\nfamily_contact,W-4,mother,no\n");
        var page = await PageAsync();
        Assert.Contains("must not be told", page, StringComparison.Ordinal);
        Assert.Contains("555-0177", page, StringComparison.Ordinal);
        Assert.DoesNotContain("tel:5550177", page, StringComparison.Ordinal);

        Task<string> PageAsync() => coordinator.GetStringAsync($"/infants/{infant}/search", IntakeBed.Ct);
    }

    [Fact]
    public async Task A_twin_is_a_sibling_and_a_row_that_waits_is_shown_to_a_coordinator()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Header + "birth,A-1,C-1,2026-03-01,female,1,2,Ida,Ada,Berg,1990-01-01,\nbirth,A-2,,2026-03-01,female,2,2,Eva,Ada,Berg,1990-01-01,\n");
        var moor = await bed.AddSiteAsync("moor", SiteKind.AudiologyClinic);
        Assert.Equal(["held awaits_confirmation"], await bed.OutcomesAsync(await bed.SendAsync(
            "kind,card_id,birth_date,sex,mother_given_name,mother_family_name,mother_birth_date,birth_order,ear,outcome,method,performed_at\n"
                + "screening,C-1,2026-03-01,female,Ada,Berg,1990-01-01,1,right,pass,aabr,2026-04-01T09:00\n", moor)));
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var infant = await WorkBed.IdAsync(bed, "A-1");
        var page = HandOffBed.Said(await coordinator.GetStringAsync($"/infants/{infant}/search", IntakeBed.Ct));
        Assert.Contains("Perhaps a brother or sister", page, StringComparison.Ordinal);
        Assert.DoesNotContain("Perhaps the same child", page, StringComparison.Ordinal);
        Assert.Contains("Site moor, held since", page, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_search_is_written_once_told_in_the_story_and_sorts_the_work_and_is_taken_back()
    {
        await using var bed = await WorkBed.StartAsync(database);
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var infant = await WorkBed.IdAsync(bed, "W-4");
        Assert.Equal("search_again", await WorkBed.TrayAsync(bed, infant));
        Assert.Contains($"/infants/{infant}/search",
            await coordinator.GetStringAsync($"/follow-up?tray=search_again&infant={infant}", IntakeBed.Ct), StringComparison.Ordinal);

        var key = Guid.NewGuid().ToString();
        foreach (var answer in await Task.WhenAll(Enumerable.Range(0, 12).Select(_ => SearchAsync(coordinator, infant, "nothing",
            ("Places", "wic"), ("Places", "immunization_registry"), ("Note", "Asked Ms. Tarn at the desk"), ("Key", key)))))
            using (answer) Assert.Equal(HttpStatusCode.Redirect, answer.StatusCode);
        Assert.Equal(1, await bed.CountAsync("searches"));
        Assert.Equal(["{wic,immunization_registry}"], await bed.ListAsync("select looked_at::text from searches"));
        Assert.Empty(await bed.ListAsync("select 1 from searches where note like '%Tarn%'"));
        Assert.Equal("call_back", await WorkBed.TrayAsync(bed, infant));
        Assert.Equal(["2026-12-25"], await bed.ListAsync($"select changes_on::text from infant_work where infant_id = '{infant}'"));
        var record = WebUtility.HtmlDecode(await coordinator.GetStringAsync($"/infants/{infant}", IntakeBed.Ct));
        Assert.Contains("Searched for: nothing", record, StringComparison.Ordinal);
        Assert.Contains("Looked at WIC, immunization registry: Asked Ms. Tarn at the desk", record, StringComparison.Ordinal);

        // By the calendar alone it comes back.
        await using (var later = RegistryApp.On(bed.App.Logins.Owner!, today: new(2026, 12, 25)))
        {
            await later.Services.GetRequiredService<KeepStatusesCurrent>().SweepCalendarAsync(IntakeBed.Ct);
            Assert.Equal("search_again", await WorkBed.TrayAsync(bed, infant));
        }

        using (await SearchAsync(coordinator, infant, "new_phone", ("Places", "medicaid"))) { }
        Assert.Equal("call_today", await WorkBed.TrayAsync(bed, infant));
        foreach (var id in await bed.ListAsync("select id from searches order by recorded_at desc"))
            using (var back = await SignedIn.SendFormAsync(coordinator, $"/infants/{infant}/search?handler=TakeBack", ("search", id)))
                Assert.Equal(HttpStatusCode.Redirect, back.StatusCode);
        Assert.Equal("search_again", await WorkBed.TrayAsync(bed, infant));
        Assert.Equal(2, await bed.CountAsync("searches where superseded_at is not null"));
        record = await coordinator.GetStringAsync($"/infants/{infant}", IntakeBed.Ct);
        Assert.DoesNotContain("Searched for:", record, StringComparison.Ordinal);
        Assert.Equal(["new_phone", "nothing", "taken_back", "taken_back"], await bed.ListAsync(
            $"select note from access_records where kind = 'searched_for' and infant_id = '{infant}' order by note"));
    }

    [Fact]
    public async Task Work_is_closed_with_a_reason_after_tries_and_a_search_and_opens_again()
    {
        await using var bed = await WorkBed.StartAsync(database);
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var infant = await WorkBed.IdAsync(bed, "W-4");
        await CloseAsync("unable_to_contact");
        Assert.Equal("search_again", await WorkBed.TrayAsync(bed, infant)); // nobody was tried
        foreach (var day in new[] { "2026-11-10", "2026-11-12", "2026-11-14" })
            using (await WorkBed.CallAsync(coordinator, infant, "NoResponse", ("AttemptedOn", day))) { }
        await CloseAsync("unable_to_contact");
        Assert.Equal(0, await bed.CountAsync("closed_work"));            // nor searched for
        using (await SearchAsync(coordinator, infant, "nothing", ("Places", "registry"))) { }
        foreach (var none in new[] { "died", "completed", "everybody", "" }) await CloseAsync(none);
        Assert.Equal(0, await bed.CountAsync("closed_work"));
        var before = await bed.ListAsync($"select diagnosis_category || loss from infant_status where infant_id = '{infant}'");
        await CloseAsync("unable_to_contact");
        Assert.Equal("closed", await WorkBed.TrayAsync(bed, infant));
        Assert.Equal(before, await bed.ListAsync($"select diagnosis_category || loss from infant_status where infant_id = '{infant}'"));
        Assert.Equal(["Ada Lost"], await WorkBed.ShownAsync(coordinator, "?tray=closed"));
        Assert.Contains("Follow-up closed: unable to contact",
            await coordinator.GetStringAsync($"/infants/{infant}", IntakeBed.Ct), StringComparison.Ordinal);
        await CloseAsync("other");
        Assert.Equal(1, await bed.CountAsync("closed_work"));

        using (await SignedIn.SendFormAsync(coordinator, $"/infants/{infant}/search?handler=Reopen")) { }
        Assert.NotEqual("closed", await WorkBed.TrayAsync(bed, infant));
        var record = await coordinator.GetStringAsync($"/infants/{infant}", IntakeBed.Ct);
        Assert.Contains("Follow-up opened again", record, StringComparison.Ordinal);

        // A birth stated anew, which may bring a telephone, opens it by itself.
        await CloseAsync("unable_to_contact");
        Assert.Equal("closed", await WorkBed.TrayAsync(bed, infant));
        await bed.SendAsync("kind,record_number,birth_date,sex,mother_given_name,mother_family_name,contact_phone\n"
            + "birth,W-4,2026-01-10,female,Ada,Lost,555-0199\n", at: bed.Now.AddMinutes(5));
        Assert.NotEqual("closed", await WorkBed.TrayAsync(bed, infant));
        Assert.Equal(["opened_again", "unable_to_contact", "unable_to_contact"], await bed.ListAsync(
            $"select note from access_records where kind = 'work_closed' and infant_id = '{infant}' order by note"));

        async Task CloseAsync(string reason)
        {
            using var answer = await SignedIn.SendFormAsync(coordinator, $"/infants/{infant}/search?handler=Close", ("reason", reason));
            Assert.Equal(HttpStatusCode.Redirect, answer.StatusCode);
        }
    }

    [Fact]
    public async Task Nobody_searches_or_closes_what_is_not_theirs()
    {
        await using var bed = await WorkBed.StartAsync(database);
        var (infant, tarn) = (await WorkBed.IdAsync(bed, "W-4"), await bed.AddSiteAsync("tarn", SiteKind.Hospital));
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        using (await SearchAsync(coordinator, infant, "nothing", ("Places", "registry"))) { }
        var search = (await bed.ListAsync("select id from searches"))[0];
        using var manager = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        using var foreign = await SignedIn.AsAsync(bed, Role.SiteManager, tarn);
        using var clinic = await SignedIn.AsAsync(bed, Role.AudiologyClinic, bed.Harbour);
        using var program = await SignedIn.AsAsync(bed, Role.InterventionProgram, bed.Harbour);
        using var elsewhere = await SignedIn.AsAsync(bed, Role.CaseWorker, null, "Nowhere");
        var page = $"/infants/{infant}/search";
        foreach (var client in new[] { foreign, clinic, program, elsewhere })
        {
            using (var seen = await client.GetAsync(page, IntakeBed.Ct)) Assert.Equal(HttpStatusCode.NotFound, seen.StatusCode);
            using (var sent = await SearchAsync(client, infant, "moved", ("Places", "registry")))
                Assert.Equal(HttpStatusCode.NotFound, sent.StatusCode);
            using (var back = await SignedIn.SendFormAsync(client, page + "?handler=TakeBack", ("search", search)))
                Assert.Equal(HttpStatusCode.NotFound, back.StatusCode);
        }

        // Closing is the program's: a site's manager, who may search, is answered as if there were no such infant.
        foreach (var client in new[] { foreign, clinic, program, elsewhere, manager })
            foreach (var handler in new[] { "Close", "Reopen" })
                using (var sent = await SignedIn.SendFormAsync(client, $"{page}?handler={handler}", ("reason", "other")))
                    Assert.Equal(HttpStatusCode.NotFound, sent.StatusCode);

        // A guessed infant; another's search by a site's manager; codes that are none; a place the program may not ask.
        using (var sent = await SearchAsync(coordinator, Guid.NewGuid().ToString(), "moved", ("Places", "registry")))
            Assert.Equal(HttpStatusCode.NotFound, sent.StatusCode);
        using (await SignedIn.SendFormAsync(manager, page + "?handler=TakeBack", ("search", search))) { }
        Assert.Equal(1, await bed.CountAsync("searches where superseded_at is null"));
        await bed.DecidePolicyAsync(p => p with { SearchMedicaid = false });
        foreach (var (result, place, on) in new[] { ("moved", "medicaid", "2026-11-25"), ("moved", "the_neighbours", "2026-11-25"),
            ("everything", "registry", "2026-11-25"), ("7", "registry", "2026-11-25"), ("moved", "registry", "2026-11-26") })
            using (var sent = await SearchAsync(coordinator, infant, result, ("Places", place), ("SearchedOn", on)))
                Assert.Equal(HttpStatusCode.UnprocessableEntity, sent.StatusCode);
        Assert.DoesNotContain("value=\"medicaid\"", await coordinator.GetStringAsync(page, IntakeBed.Ct), StringComparison.Ordinal);
        foreach (var verb in new[] { HttpMethod.Put, HttpMethod.Delete, HttpMethod.Patch })
        {
            using var request = new HttpRequestMessage(verb, page + "?handler=Close");
            using var said = await coordinator.SendAsync(request, IntakeBed.Ct);
            Assert.False(said.IsSuccessStatusCode);
        }

        // Without its token, and with a session that was ended.
        using (var form = new FormUrlEncodedContent([new("Places", "registry"), new("Result", "moved")]))
        using (var sent = await coordinator.PostAsync(page, form, IntakeBed.Ct))
            Assert.Equal(HttpStatusCode.BadRequest, sent.StatusCode);
        await bed.ListAsync("update sessions set ended_at = now() returning 1");
        using (var seen = await coordinator.GetAsync(page, IntakeBed.Ct)) Assert.Equal(HttpStatusCode.Redirect, seen.StatusCode);
        Assert.Equal((1, 0), (await bed.CountAsync("searches"), await bed.CountAsync("closed_work")));
        foreach (var sql in new[] { "delete from searches", "delete from closed_work" })
            await Assert.ThrowsAsync<PostgresException>(() => bed.ListAsync(sql + " returning 1"));
    }

    private static Task<HttpResponseMessage> SearchAsync(
        HttpClient client, string infant, string result, params (string, string)[] more) =>
        SignedIn.SendFormAsync(client, $"/infants/{infant}/search",
        [
            ("Result", result), .. more.Any(m => m.Item1 == "SearchedOn") ? [] : new[] { ("SearchedOn", "2026-11-25") },
            .. more.Any(m => m.Item1 == "Key") ? [] : new[] { ("Key", Guid.NewGuid().ToString()) }, .. more,
        ]);
}
