using System.Net;
using Microsoft.Extensions.DependencyInjection;
using Registry.Outreach;
using Registry.Records;
using Registry.Tests.Intake;

namespace Registry.Tests.FollowUp;

/// <summary>What a person writes down beside the list: calls, appointments and what became of them, putting off; and who may not.
/// </summary>
public sealed class LogCallsTests(TestDatabase database)
{
    [Fact]
    public async Task A_call_is_kept_with_who_called_for_whom_and_the_next_infant_opens()
    {
        await using var bed = await WorkBed.StartAsync(database);
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var (quist, berg) = (await WorkBed.IdAsync(bed, "W-2"), await WorkBed.IdAsync(bed, "W-3"));
        using (var none = await WorkBed.CallAsync(coordinator, quist, "", ("Note", "Neighbor answered")))
        {
            Assert.Equal(HttpStatusCode.UnprocessableEntity, none.StatusCode);
            var again = WebUtility.HtmlDecode(await none.Content.ReadAsStringAsync(IntakeBed.Ct));
            Assert.Contains("Choose what came of the attempt", again, StringComparison.Ordinal);
            Assert.Contains("Neighbor answered", again, StringComparison.Ordinal); // what was typed is there still
            var outcomes = again[again.IndexOf("class=\"outcome\"", StringComparison.Ordinal)..];
            outcomes = outcomes[..outcomes.IndexOf("</fieldset>", StringComparison.Ordinal)];
            Assert.DoesNotContain("checked", outcomes, StringComparison.Ordinal);
        }

        using (var saved = await WorkBed.CallAsync(
            coordinator, quist, "NoResponse", ("Note", "Neighbor answered"), ("CallAgainOn", "2026-11-30")))
            Assert.Equal($"/follow-up?infant={berg}#call", saved.Headers.Location!.ToString());
        Assert.Equal(["no_response phone 2026-11-30 coordinator harbour"], await bed.ListAsync(
            "select concat_ws(' ', outcome, channel, call_again_on, entered_as, s.code) from contacts c join sites s on s.id = c.site_id "
                + "where entered_by is not null and note <> 'Neighbor answered'"));
        Assert.Equal("call_back", await WorkBed.TrayAsync(bed, quist));
        var panel = WebUtility.HtmlDecode(await coordinator.GetStringAsync($"/follow-up?infant={quist}", IntakeBed.Ct));
        Assert.Contains("25 Nov 2026: No response, by phone: Neighbor answered", panel, StringComparison.Ordinal);
        Assert.Contains("(Coordinator, program office)", panel, StringComparison.Ordinal);
        using var screener = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        using (await WorkBed.CallAsync(screener, berg, "Reached", ("Person", "OtherParent"))) { }
        panel = WebUtility.HtmlDecode(await screener.GetStringAsync($"/follow-up?infant={berg}", IntakeBed.Ct));
        panel = string.Join(' ', panel.Split(default(char[]), StringSplitOptions.RemoveEmptyEntries));
        Assert.Contains("Reached, other parent, by phone <small>(Screener, Harbour Hospital)", panel, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_form_sent_twice_or_twice_at_once_is_one_attempt_and_can_be_undone_by_who_sent_it()
    {
        await using var bed = await WorkBed.StartAsync(database);
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        using var other = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var id = await WorkBed.IdAsync(bed, "W-1");
        var key = Guid.NewGuid().ToString();
        var answers = await Task.WhenAll(Enumerable.Range(0, 4).Select(_ => WorkBed.CallAsync(
            coordinator, id, "AppointmentMade", ("Key", key), ("AppointmentOn", "2026-12-03"))));
        Assert.All(answers, a => Assert.Equal(HttpStatusCode.Redirect, a.StatusCode));
        Assert.Equal((1, 1), (await bed.CountAsync("contacts"), await bed.CountAsync("appointments")));
        Assert.Equal("appointment_booked", await WorkBed.TrayAsync(bed, id));

        using (await SignedIn.SendFormAsync(other, "/follow-up?handler=Undo", ("infant", id), ("key", Guid.NewGuid().ToString()))) { }
        Assert.Equal(1, await bed.CountAsync("contacts where superseded_at is null"));
        using (await SignedIn.SendFormAsync(coordinator, "/follow-up?handler=Undo", ("infant", id), ("key", key))) { }
        Assert.Equal((0, 0), (await bed.CountAsync("contacts where superseded_at is null"),
            await bed.CountAsync("appointments where superseded_at is null")));
        Assert.Equal("call_today", await WorkBed.TrayAsync(bed, id));
        Assert.Contains("no longer held true", await coordinator.GetStringAsync($"/infants/{id}", IntakeBed.Ct), StringComparison.Ordinal);
    }

    [Fact]
    public async Task Who_is_reached_today_is_lost_no_more()
    {
        await using var bed = await WorkBed.StartAsync(database);
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var id = await WorkBed.IdAsync(bed, "W-4");
        Assert.Equal("search_again", await WorkBed.TrayAsync(bed, id));
        using (await WorkBed.CallAsync(coordinator, id, "Reached", ("CallAgainOn", "2026-11-25"))) { }
        Assert.Equal("call_today", await WorkBed.TrayAsync(bed, id));
    }

    [Fact]
    public async Task An_appointment_is_made_moved_and_missed_and_none_of_it_is_lost()
    {
        await using var bed = await WorkBed.StartAsync(database);
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var id = await WorkBed.IdAsync(bed, "W-1");
        using (await WorkBed.CallAsync(coordinator, id, "AppointmentMade", ("AppointmentOn", "2026-12-03"), ("AppointmentTime", "10:30"),
            ("AppointmentSite", "hill"), ("AppointmentPlace", "Room 4"))) { }
        var panel = WebUtility.HtmlDecode(await coordinator.GetStringAsync($"/follow-up?infant={id}", IntakeBed.Ct));
        Assert.Contains("3 Dec 2026, 10:30, Hill Audiology, Room 4", panel, StringComparison.Ordinal);
        Assert.Empty(await bed.ListAsync("select 1 from appointments where appointment_place like '%Room%'"));

        // A form that was opened before somebody booked is not saved over it.
        using (var stale = await WorkBed.CallAsync(coordinator, id, "AppointmentMade", ("AppointmentOn", "2026-12-09")))
        {
            Assert.Equal(HttpStatusCode.Conflict, stale.StatusCode);
            Assert.Contains("value=\"2026-12-09\"", await stale.Content.ReadAsStringAsync(IntakeBed.Ct), StringComparison.Ordinal);
        }

        using (await WorkBed.CallAsync(coordinator, id, "AppointmentMade", ("AppointmentOn", "2026-12-09"), ("BookedOn", "2026-12-03"))) { }
        Assert.Equal(["made 2026-12-03", "moved 2026-12-03", "made 2026-12-09"], await bed.ListAsync(
            "select kind || ' ' || appointment_on from appointments where superseded_at is null order by appointment_on, kind"));
        using (await EndAsync(coordinator, id, "2026-12-09", "NoShow")) { }
        Assert.Equal("appointment_booked", await WorkBed.TrayAsync(bed, id)); // its day has not come
        using (await EndAsync(coordinator, id, "2026-12-09", "Cancelled")) { }
        Assert.NotEqual("appointment_booked", await WorkBed.TrayAsync(bed, id));
        using (await EndAsync(coordinator, id, "2026-12-09", "Cancelled")) { } // a second time, from a form of its own
        Assert.Equal(1, await bed.CountAsync("appointments where kind = 'cancelled'"));
        var record = await coordinator.GetStringAsync($"/infants/{id}", IntakeBed.Ct);
        Assert.Contains("Appointment 9 Dec 2026 for diagnosis: canceled", record, StringComparison.Ordinal);
    }

    [Fact]
    public async Task An_appointment_a_site_sent_asks_for_its_result_when_it_has_passed()
    {
        await using var bed = await WorkBed.StartAsync(database);
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        await bed.SendAsync(
            """
            kind,record_number,step,appointment,happened_on,appointment_on,appointment_time,appointment_site,appointment_place
            appointment,W-1,diagnosis,made,2026-11-10,2026-11-20,09:00,hill,Room 4
            appointment,W-2,diagnosis,made,2026-11-10,2026-11-20,,,
            appointment,W-3,diagnosis,made,2026-11-10,2026-12-20,,,
            """ + "\n");
        var (first, second) = (await WorkBed.IdAsync(bed, "W-1"), await WorkBed.IdAsync(bed, "W-2"));
        var third = await WorkBed.IdAsync(bed, "W-3");
        Assert.Equal("result_awaited result_awaited appointment_booked",
            $"{await WorkBed.TrayAsync(bed, first)} {await WorkBed.TrayAsync(bed, second)} {await WorkBed.TrayAsync(bed, third)}");
        using (await EndAsync(coordinator, first, "2026-11-20", "NoShow")) { }
        Assert.Equal("call_today", await WorkBed.TrayAsync(bed, first));
        await bed.SendAsync("kind,record_number,evaluated_on,right_finding,left_finding\ndiagnosis,W-2,2026-11-20,normal,normal\n");
        Assert.Null(await WorkBed.TrayAsync(bed, second));
    }

    [Fact]
    public async Task Nobody_is_reminded_of_a_step_for_which_an_appointment_is_booked()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(
            """
            kind,record_number,birth_date,sex,mother_given_name,mother_family_name,contact_email,email_consent
            birth,R-1,2026-10-20,female,Ada,Marlow,a@family.example,true
            """ + "\n");
        var queue = bed.App.Services.GetRequiredService<QueueReminders>();
        Assert.Equal("1 reminders queued, 0 withdrawn", await queue.RunAsync(IntakeBed.Ct));
        await bed.SendAsync("kind,record_number,step,appointment,happened_on,appointment_on\nappointment,R-1,screening,made,2026-11-24,2026-11-30\n");
        Assert.Equal("0 reminders queued, 1 withdrawn", await queue.RunAsync(IntakeBed.Ct));
        await bed.SendAsync("kind,record_number,step,appointment,happened_on,appointment_on\nappointment,R-1,screening,cancelled,2026-11-25,2026-11-30\n");
        Assert.Equal("1 reminders queued, 0 withdrawn", await queue.RunAsync(IntakeBed.Ct));
    }

    [Fact]
    public async Task Putting_off_needs_a_day_and_a_reason_and_is_ended_or_ends_by_itself()
    {
        await using var bed = await WorkBed.StartAsync(database);
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var id = await WorkBed.IdAsync(bed, "W-1");
        foreach (var (until, reason) in new[]
        {
            ("2026-11-25", "FamilyAsked"), ("2027-11-25", "FamilyAsked"), ("2026-12-01", ""), ("2026-12-01", "7"),
            ("nonsense", "FamilyAsked"),
        })
            using (await PutOffAsync(until, reason)) Assert.Equal("call_today", await WorkBed.TrayAsync(bed, id));
        using (await PutOffAsync("2026-12-01", "FamilyAsked")) Assert.Equal("call_back", await WorkBed.TrayAsync(bed, id));
        Assert.Equal(["2026-12-01"], await bed.ListAsync($"select changes_on::text from infant_work where infant_id = '{id}'"));
        using (await PutOffAsync("2026-12-05", "InHospital")) Assert.Equal("call_back", await WorkBed.TrayAsync(bed, id));
        Assert.Equal(1, await bed.CountAsync("work_put_off where ended_at is null"));
        using (await PutOffAsync("", "")) Assert.Equal("call_today", await WorkBed.TrayAsync(bed, id));

        Task<HttpResponseMessage> PutOffAsync(string until, string reason) => SignedIn.SendFormAsync(
            coordinator, "/follow-up?handler=PutOff", ("infant", id), ("until", until), ("reason", reason));
    }

    [Fact]
    public async Task Who_does_not_see_an_infant_writes_nothing_about_it_and_learns_nothing()
    {
        await using var bed = await WorkBed.StartAsync(database);
        var id = await WorkBed.IdAsync(bed, "W-1");
        using var manager = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Hill);
        using var worker = await SignedIn.AsAsync(bed, Role.CaseWorker, null, "Elsewhere");
        using var clinic = await SignedIn.AsAsync(bed, Role.AudiologyClinic, bed.Hill);
        foreach (var client in new[] { manager, worker, clinic })
            foreach (var infant in new[] { id, Guid.NewGuid().ToString() })
            {
                foreach (var answer in new[]
                {
                    await WorkBed.CallAsync(client, infant, "Reached"),
                    await EndAsync(client, infant, "2026-12-03", "Cancelled"),
                    await SignedIn.SendFormAsync(client, "/follow-up?handler=PutOff", ("infant", infant), ("until", "2026-12-01"),
                        ("reason", "FamilyAsked")),
                    await SignedIn.SendFormAsync(client, "/follow-up?handler=Take", ("infant", infant)),
                    await SignedIn.SendFormAsync(client, "/follow-up?handler=Undo", ("infant", infant), ("key", Guid.NewGuid().ToString())),
                })
                    using (answer) Assert.Equal(HttpStatusCode.NotFound, answer.StatusCode);
                var page = await client.GetStringAsync($"/follow-up?infant={infant}", IntakeBed.Ct);
                Assert.DoesNotContain("Marlow", page, StringComparison.Ordinal);
                Assert.DoesNotContain("id=\"call\"", page, StringComparison.Ordinal);
            }

        using (var screener = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour))
        using (var assigned = await SignedIn.SendFormAsync(screener, "/follow-up?handler=Assign", ("ticked", id), ("worker", "")))
            Assert.Equal(HttpStatusCode.Redirect, assigned.StatusCode); // to the page that says it is not theirs
        Assert.Equal(0, await bed.CountAsync("contacts") + await bed.CountAsync("appointments") + await bed.CountAsync("work_put_off")
            + await bed.CountAsync("infant_assignments"));
    }

    [Theory]
    [InlineData("AppointmentOn", "2026-11-01"), InlineData("AppointmentOn", "9999-12-31"), InlineData("AppointmentOn", "nonsense")]
    [InlineData("CallAgainOn", "2026-11-01"), InlineData("CallAgainOn", "9999-12-31"), InlineData("AppointmentSite", "no-such-site")]
    [InlineData("Channel", "99"), InlineData("Person", "99"), InlineData("Step", "99"), InlineData("AttemptedOn", "2026-11-26")]
    [InlineData("AttemptedOn", "2020-01-01"), InlineData("Key", "nonsense"), InlineData("Outcome", "99")]
    public async Task A_form_no_page_would_send_is_refused_and_writes_nothing(string field, string value)
    {
        await using var bed = await WorkBed.StartAsync(database);
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var fields = new Dictionary<string, string>
        {
            ["infant"] = await WorkBed.IdAsync(bed, "W-1"),
            ["Step"] = "Diagnosis",
            ["Outcome"] = "AppointmentMade",
            ["AttemptedOn"] = "2026-11-25",
            ["AppointmentOn"] = "2026-12-03",
            [field] = value,
        };
        using var answer = await SignedIn.SendFormAsync(coordinator, "/follow-up", [.. fields.Select(f => (f.Key, f.Value))]);
        Assert.Equal(HttpStatusCode.UnprocessableEntity, answer.StatusCode);
        Assert.Equal(0, await bed.CountAsync("contacts") + await bed.CountAsync("appointments"));
    }

    [Theory]
    [InlineData("PUT"), InlineData("DELETE"), InlineData("PATCH")]
    public async Task Other_verbs_do_nothing(string verb)
    {
        await using var bed = await WorkBed.StartAsync(database);
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        using var request = new HttpRequestMessage(new(verb), $"/follow-up?handler=Undo&infant={await WorkBed.IdAsync(bed, "W-1")}");
        using var answer = await coordinator.SendAsync(request, IntakeBed.Ct);
        Assert.True((int)answer.StatusCode >= 400, $"{answer.StatusCode}");
    }

    private static Task<HttpResponseMessage> EndAsync(HttpClient client, string infant, string on, string kind) => SignedIn.SendFormAsync(
        client, "/follow-up?handler=Appointment", ("infant", infant), ("Step", "Diagnosis"), ("AppointmentOn", on), ("Kind", kind),
        ("Key", Guid.NewGuid().ToString()));
}
