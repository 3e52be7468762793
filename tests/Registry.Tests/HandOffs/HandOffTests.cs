using System.Net;
using Microsoft.Extensions.DependencyInjection;
using Npgsql;
using Registry.Access;
using Registry.Infants.Statuses;
using Registry.Records;
using Registry.Tests.FollowUp;
using Registry.Tests.Intake;

namespace Registry.Tests.HandOffs;

/// <summary>An infant is handed on: by whom, to whom, what came of it; what it opens while it stands; and when it is work again.</summary>
public sealed class HandOffTests(TestDatabase database)
{
    [Fact]
    public async Task A_clinic_sees_the_infant_while_the_hand_off_stands_and_every_step_is_kept()
    {
        await using var beds = await HandOffBed.StartAsync(database);
        var bed = beds.Bed;
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        using var clinic = await SignedIn.AsAsync(bed, Role.AudiologyClinic, beds.Clinic);
        var marlow = await WorkBed.IdAsync(bed, "W-1");
        Assert.False(await beds.SeesAsync(clinic, marlow));
        var (infant, handOff) = await beds.HandedAsync(coordinator, "W-1", "clinic", "cove");
        Assert.Equal(marlow, infant);
        Assert.True(await beds.SeesAsync(clinic, infant));
        Assert.Equal("call_back", await WorkBed.TrayAsync(bed, infant));

        using (await HandOffBed.SayAsync(clinic, $"/infants/{infant}/hand-offs", handOff, "Received")) { }
        using (await HandOffBed.SayAsync(clinic, $"/infants/{infant}/hand-offs", handOff, "Accepted")) { }
        Assert.Equal("accepted", await beds.StateAsync(handOff));
        var story = WebUtility.HtmlDecode(await coordinator.GetStringAsync($"/infants/{infant}", IntakeBed.Ct));
        Assert.Contains("Hand-off to Site cove: accepted", story, StringComparison.Ordinal);
        Assert.Contains("AudiologyClinic, Site cove", story, StringComparison.Ordinal);

        using (var back = await HandOffBed.SayAsync(
            clinic, $"/infants/{infant}/hand-offs", handOff, "Returned", ("reason", "no_capacity")))
            Assert.Equal("/clinic", back.Headers.Location!.OriginalString);
        Assert.False(await beds.SeesAsync(clinic, infant));
        Assert.Equal("call_today", await WorkBed.TrayAsync(bed, infant));
        Assert.Equal(["sent Coordinator  ", "received AudiologyClinic cove ", "accepted AudiologyClinic cove ",
            "returned AudiologyClinic cove no_capacity"], await bed.ListAsync(
            "select concat_ws(' ', e.act, p.display_name, coalesce(s.code, ''), coalesce(e.reason, '')) from hand_off_events e "
                + "join people p on p.id = e.person_id left join sites s on s.id = e.site_id order by e.id"));
        Assert.Equal(["sent", "received", "accepted", "returned"], await bed.ListAsync(
            $"select note from access_records where kind = 'handed_off' and infant_id = '{infant}' order by id"));
    }

    [Fact]
    public async Task What_is_sent_by_mistake_is_undone_and_what_it_opened_and_stated_closes()
    {
        await using var beds = await HandOffBed.StartAsync(database);
        var bed = beds.Bed;
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        using var clinic = await SignedIn.AsAsync(bed, Role.AudiologyClinic, beds.Clinic);
        var (infant, handOff) = await beds.HandedAsync(coordinator, "W-1", "clinic", "cove");
        Assert.Contains("<button type=\"submit\">Undo</button>",
            await coordinator.GetStringAsync($"/infants/{infant}/hand-offs", IntakeBed.Ct), StringComparison.Ordinal);
        using (await HandOffBed.SayAsync(
            coordinator, $"/infants/{infant}/hand-offs", handOff, "Withdrawn", ("reason", "sent_by_mistake"))) { }
        Assert.False(await beds.SeesAsync(clinic, infant));
        Assert.Equal("call_today", await WorkBed.TrayAsync(bed, infant));

        // To early intervention: the referral is a fact the rules know, and goes with the mistake.
        (_, handOff) = await beds.HandedAsync(coordinator, "W-1", "intervention_program", "first-steps");
        Assert.Equal(1, await bed.CountAsync("interventions where kind = 'referred' and superseded_at is null"));
        using (await HandOffBed.SayAsync(
            coordinator, $"/infants/{infant}/hand-offs", handOff, "Withdrawn", ("reason", "sent_by_mistake"))) { }
        Assert.Equal(0, await bed.CountAsync("interventions where superseded_at is null"));
    }

    [Fact]
    public async Task Who_has_no_account_is_named_and_what_they_said_is_written_down_for_them()
    {
        await using var beds = await HandOffBed.StartAsync(database);
        var bed = beds.Bed;
        using var worker = await SignedIn.AsAsync(bed, Role.CaseWorker, null, "Lind");
        var (infant, handOff) = await beds.HandedAsync(worker, "W-1", "medical_home", "Dr. Okafor, Lind Family Practice");
        var page = WebUtility.HtmlDecode(await worker.GetStringAsync($"/infants/{infant}/hand-offs", IntakeBed.Ct));
        Assert.Contains("Dr. Okafor, Lind Family Practice", page, StringComparison.Ordinal);
        Assert.Empty(await bed.ListAsync("select 1 from hand_offs where to_name like '%Okafor%'"));
        using (await HandOffBed.SayAsync(worker, $"/infants/{infant}/hand-offs", handOff, "Accepted")) { }
        Assert.Equal("accepted", await beds.StateAsync(handOff));
        (_, _) = await beds.HandedAsync(worker, "W-1", "other_state", "Program of Westmark");
        Assert.Equal(1, await bed.CountAsync("moves where kind = 'handed_off' and superseded_at is null"));
    }

    [Fact]
    public async Task One_not_acknowledged_in_its_time_is_work_again_by_the_calendar_alone()
    {
        await using var beds = await HandOffBed.StartAsync(database);
        var bed = beds.Bed;
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var (infant, _) = await beds.HandedAsync(coordinator, "W-1", "clinic", "cove");
        Assert.Equal(["2026-12-03"], await bed.ListAsync($"select changes_on::text from infant_work where infant_id = '{infant}'"));
        await using var later = RegistryApp.On(bed.App.Logins.Owner!, today: new(2026, 12, 3));
        await later.Services.GetRequiredService<KeepStatusesCurrent>().SweepCalendarAsync(IntakeBed.Ct);
        Assert.Equal("call_today", await WorkBed.TrayAsync(bed, infant));
        Assert.Equal(1, await bed.CountAsync($"infant_work where infant_id = '{infant}' and reasons::text like '%not_acknowledged%'"));
    }

    [Fact]
    public async Task Nobody_sends_or_answers_what_is_not_theirs()
    {
        await using var beds = await HandOffBed.StartAsync(database);
        var bed = beds.Bed;
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        using var clinic = await SignedIn.AsAsync(bed, Role.AudiologyClinic, beds.Clinic);
        var tarn = await bed.AddSiteAsync("tarn-clinic", SiteKind.AudiologyClinic);
        using var other = await SignedIn.AsAsync(bed, Role.AudiologyClinic, tarn);
        using var records = await SignedIn.AsAsync(bed, Role.VitalRecords, beds.Clinic);
        var quist = await WorkBed.IdAsync(bed, "W-2");
        // An infant one does not see, a site that takes nobody, one's own, a name without a site, a code that is none.
        using (var sent = await HandOffBed.SendAsync(clinic, quist, "clinic", "hill"))
            Assert.Equal(HttpStatusCode.NotFound, sent.StatusCode);
        using (var sent = await HandOffBed.SendAsync(clinic, Guid.NewGuid().ToString(), "clinic", "hill"))
            Assert.Equal(HttpStatusCode.NotFound, sent.StatusCode);
        foreach (var (kind, to) in new[] { ("clinic", "first-steps"), ("clinic", "nowhere"), ("intervention_program", "cove"),
            ("medical_home", " "), ("everybody", "cove") })
            using (var sent = await HandOffBed.SendAsync(coordinator, quist, kind, to))
                Assert.Equal(HttpStatusCode.UnprocessableEntity, sent.StatusCode);
        Assert.Equal(0, await bed.CountAsync("hand_offs"));

        var (infant, handOff) = await beds.HandedAsync(coordinator, "W-1", "clinic", "cove");
        var page = $"/infants/{infant}/hand-offs";
        foreach (var client in new[] { other, records })
            foreach (var act in new[] { "Received", "Accepted", "Returned", "Withdrawn", "ConsentRecorded", "Sent", "7" })
                using (var said = await HandOffBed.SayAsync(client, page, handOff, act, ("reason", "other"), ("consentOn", "2026-11-20")))
                    Assert.Equal(HttpStatusCode.NotFound, said.StatusCode);
        // Nor the clinic what is the sender's; nor anybody a hand-off that does not exist, or by the page of another infant.
        foreach (var act in new[] { "Withdrawn", "ConsentRecorded", "Sent" })
            using (var said = await HandOffBed.SayAsync(clinic, page, handOff, act, ("reason", "other"), ("consentOn", "2026-11-20")))
                Assert.Equal(HttpStatusCode.NotFound, said.StatusCode);
        using (var said = await HandOffBed.SayAsync(clinic, page, Guid.NewGuid().ToString(), "Accepted"))
            Assert.Equal(HttpStatusCode.NotFound, said.StatusCode);
        foreach (var verb in new[] { HttpMethod.Put, HttpMethod.Delete, HttpMethod.Patch })
        {
            using var request = new HttpRequestMessage(verb, page + "?handler=Answer");
            using var said = await clinic.SendAsync(request, IntakeBed.Ct);
            Assert.False(said.IsSuccessStatusCode);
        }

        // A site's key is nobody who answers.
        using var system = SignedIn.Nobody(bed);
        await using (var scope = bed.App.Services.CreateAsyncScope())
            system.DefaultRequestHeaders.Authorization = new("Bearer", (await scope.ServiceProvider.GetRequiredService<SiteKeys>()
                .IssueAsync(beds.Clinic, "system", KeyScope.SendAndRead, null, IntakeBed.Ct)).Secret);
        using (var form = new FormUrlEncodedContent([new("handOff", handOff), new("act", "Accepted")]))
        using (var said = await system.PostAsync(page + "?handler=Answer", form, IntakeBed.Ct))
            Assert.False(said.IsSuccessStatusCode);
        Assert.Equal("sent", await beds.StateAsync(handOff));
        Assert.Equal(1, await bed.CountAsync("hand_off_events"));
    }

    [Fact]
    public async Task Twelve_at_once_are_one_and_a_session_from_before_sees_nothing_after()
    {
        await using var beds = await HandOffBed.StartAsync(database);
        var bed = beds.Bed;
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        using var clinic = await SignedIn.AsAsync(bed, Role.AudiologyClinic, beds.Clinic);
        var infant = await WorkBed.IdAsync(bed, "W-1");
        await AllAsync(_ => HandOffBed.SendAsync(coordinator, infant, "clinic", "cove"));
        Assert.Equal((1, 1), (await bed.CountAsync("hand_offs"), await bed.CountAsync("hand_off_events")));
        var handOff = (await bed.ListAsync("select id from hand_offs"))[0];
        await AllAsync(i => HandOffBed.SayAsync(
            clinic, $"/infants/{infant}/hand-offs", handOff, i % 2 == 0 ? "Accepted" : "Returned", ("reason", "no_capacity")));
        Assert.Equal("returned", await beds.StateAsync(handOff));
        Assert.Equal(1, await bed.CountAsync("hand_off_events where act = 'returned'"));
        Assert.True(await bed.CountAsync("hand_off_events where act = 'accepted'") <= 1);
        Assert.False(await beds.SeesAsync(clinic, infant));

        static async Task AllAsync(Func<int, Task<HttpResponseMessage>> send)
        {
            foreach (var answer in await Task.WhenAll(Enumerable.Range(0, 12).Select(send))) answer.Dispose();
        }
    }

    [Fact]
    public async Task A_site_that_reported_itself_keeps_seeing_the_infant_and_what_is_written_stays_written()
    {
        await using var beds = await HandOffBed.StartAsync(database);
        var bed = beds.Bed;
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        using var clinic = await SignedIn.AsAsync(bed, Role.AudiologyClinic, beds.Clinic);
        var (infant, handOff) = await beds.HandedAsync(coordinator, "W-1", "clinic", "cove");
        using (await WorkBed.CallAsync(clinic, infant, "Reached")) { }
        using (await HandOffBed.SayAsync(
            clinic, $"/infants/{infant}/hand-offs", handOff, "Returned", ("reason", "family_declined"))) { }
        Assert.True(await beds.SeesAsync(clinic, infant));
        foreach (var sql in new[] { "update hand_off_events set act = 'accepted'", "delete from hand_off_events", "delete from hand_offs",
            "update hand_offs set to_site_id = null", "update hand_offs set infant_id = infant_id" })
            await Assert.ThrowsAsync<PostgresException>(() => bed.ListAsync(sql + " returning 1"));
    }

    [Fact]
    public async Task Who_continues_a_closed_site_answers_what_was_handed_to_it()
    {
        await using var beds = await HandOffBed.StartAsync(database);
        var bed = beds.Bed;
        var heir = await bed.AddSiteAsync("bay", SiteKind.AudiologyClinic);
        var stranger = await bed.AddSiteAsync("tarn", SiteKind.AudiologyClinic);
        var steps = await bed.AddSiteAsync("next-steps", SiteKind.InterventionProgram);
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        using var clinic = await SignedIn.AsAsync(bed, Role.AudiologyClinic, heir);
        using var other = await SignedIn.AsAsync(bed, Role.AudiologyClinic, stranger);
        using var program = await SignedIn.AsAsync(bed, Role.InterventionProgram, steps);
        var (infant, handOff) = await beds.HandedAsync(coordinator, "W-1", "clinic", "cove");
        var (_, referral) = await beds.HandedAsync(coordinator, "W-2", "intervention_program", "first-steps");
        using (await SignedIn.SendFormAsync(coordinator, $"/infants/{infant}/ask", ("Step", "diagnosis"), ("ToSite", "cove"))) { }
        using (var early = await HandOffBed.SayAsync(clinic, "/clinic", handOff, "Accepted"))
            Assert.Equal(HttpStatusCode.NotFound, early.StatusCode); // the other is open: nobody continues it
        await bed.ListAsync("update sites set closed_on = $1, active = false, continued_by = case code when 'cove' then $2::uuid else $3 end "
            + "where code in ('cove', 'first-steps') returning 1", bed.App.Today, heir.Value, steps.Value);
        Assert.Contains("Ada Marlow", HandOffBed.Said(await clinic.GetStringAsync("/clinic", IntakeBed.Ct)), StringComparison.Ordinal);
        var referrals = HandOffBed.Said(await program.GetStringAsync("/early-intervention", IntakeBed.Ct));
        Assert.Contains("Ada Quist", referrals, StringComparison.Ordinal);
        using (var foreign = await HandOffBed.SayAsync(other, "/clinic", handOff, "Accepted"))
            Assert.Equal(HttpStatusCode.NotFound, foreign.StatusCode);
        using (await HandOffBed.SayAsync(clinic, "/clinic", handOff, "Accepted")) { }
        using (await HandOffBed.SayAsync(program, "/early-intervention", referral, "Received")) { }
        Assert.Equal(("accepted", "received"), (await beds.StateAsync(handOff), await beds.StateAsync(referral)));

        // So does it say that it has no result; and what it was handed it sends back.
        var request = (await bed.ListAsync("select id from answer_requests"))[0];
        using (var none = await SignedIn.SendFormAsync(other, "/clinic?handler=Nothing", ("request", request)))
            Assert.Equal(HttpStatusCode.NotFound, none.StatusCode);
        using (var none = await SignedIn.SendFormAsync(clinic, "/clinic?handler=Nothing", ("request", request)))
            Assert.Equal("/clinic", none.Headers.Location?.OriginalString);
        using (await HandOffBed.SayAsync(clinic, "/clinic", handOff, "Returned", ("reason", "no_capacity"))) { }
        Assert.Equal("returned", await beds.StateAsync(handOff));
        Assert.False(await beds.SeesAsync(clinic, infant));
    }
}
