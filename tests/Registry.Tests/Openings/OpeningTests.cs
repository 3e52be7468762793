using System.Net;
using Registry.Records;
using Registry.Tests.FollowUp;
using Registry.Tests.HandOffs;
using Registry.Tests.Intake;

namespace Registry.Tests.Openings;

/// <summary>Clinics' openings: stated, loaded, offered, taken and given back. The program's today is 25 November 2026.</summary>
public sealed class OpeningTests(TestDatabase database)
{
    [Fact]
    public async Task A_clinic_states_its_openings_weekly_and_sees_who_took_them()
    {
        await using var bed = await WorkBed.StartAsync(database);
        using var clinic = await SignedIn.AsAsync(bed, Role.AudiologyClinic, bed.Hill);
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        using (var stated = await StateAsync(clinic, "2026-12-01", "10:30", places: 2, weeks: 3))
            Assert.Equal("/clinic/openings", stated.Headers.Location?.OriginalString);
        using (await StateAsync(clinic, "2026-12-08", "10:30", places: 2, weeks: 2)) { } // one stands already
        Assert.Equal(["2026-12-01", "2026-12-08", "2026-12-15"], await bed.ListAsync("select opens_on::text from clinic_openings order by 1"));

        var infant = await WorkBed.IdAsync(bed, "W-1");
        var opening = (await bed.ListAsync("select id from clinic_openings where opens_on = '2026-12-01'"))[0];
        var panel = await coordinator.GetStringAsync($"/follow-up?infant={infant}", IntakeBed.Ct);
        Assert.Contains($"value=\"{opening}\"", panel, StringComparison.Ordinal);
        var record = await coordinator.GetStringAsync($"/infants/{infant}", IntakeBed.Ct);
        Assert.Contains($"value=\"{opening}\"", record, StringComparison.Ordinal);
        Assert.Contains("2 free", panel, StringComparison.Ordinal);
        using (await WorkBed.CallAsync(coordinator, infant, "AppointmentMade", ("Opening", opening))) { }
        Assert.Equal(["2026-12-01 10:30:00 hill"], await bed.ListAsync(
            "select concat_ws(' ', a.appointment_on, a.appointment_time, s.code) from appointments a join sites s on s.id = a.appointment_site_id"));
        Assert.Equal("appointment_booked", await WorkBed.TrayAsync(bed, infant));
        foreach (var page in new[] { "/clinic", "/clinic/openings" })
        {
            var said = HandOffBed.Said(await clinic.GetStringAsync(page, IntakeBed.Ct));
            Assert.Contains("1 of 2", said, StringComparison.Ordinal);
            Assert.Contains("Ada Marlow", said[said.IndexOf("Taken by", StringComparison.Ordinal)..], StringComparison.Ordinal);
        }
    }

    [Fact]
    public async Task Twelve_at_once_for_the_last_place_are_one_and_what_is_moved_cancelled_or_undone_gives_it_back()
    {
        await using var bed = await WorkBed.StartAsync(database, rows: string.Concat(Enumerable.Range(1, 12).Select(i =>
            WorkBed.Family($"W-{i}", "2026-10-10", $"Name{(char)('a' + i)}", phone: $"555-02{i:00}"))));
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        using (await StateAsync(coordinator, "2026-12-01", "10:30", site: "hill")) { }
        using (await StateAsync(coordinator, "2026-12-02", "09:00", site: "hill")) { }
        var ids = await bed.ListAsync("select id from clinic_openings order by opens_on");
        var infants = await Task.WhenAll(Enumerable.Range(1, 12).Select(i => WorkBed.IdAsync(bed, $"W-{i}")));
        foreach (var answer in await Task.WhenAll(infants.Select(i => BookAsync(coordinator, i, ids[0])))) answer.Dispose();
        Assert.Equal((1, 1), (await bed.CountAsync("booked_openings"), await bed.CountAsync("appointments")));
        var first = (await bed.ListAsync("select infant_id from booked_openings"))[0];
        var others = infants.Where(i => i != first).ToList();
        var full = await coordinator.GetStringAsync($"/follow-up?infant={others[0]}", IntakeBed.Ct);
        Assert.DoesNotContain(ids[0], full, StringComparison.Ordinal);

        // Moved to the other opening, the place is free; taken by another, undoing the move is refused and changes nothing.
        var key = Guid.NewGuid().ToString();
        await DoneAsync(BookAsync(coordinator, first, ids[1], ("BookedOn", "2026-12-01"), ("Key", key)));
        await DoneAsync(BookAsync(coordinator, others[0], ids[0]));
        Assert.Equal(2, await StandingAsync());
        using (await SignedIn.SendFormAsync(coordinator, "/follow-up?handler=Undo", ("infant", first), ("key", key))) { }
        Assert.Equal([$"{others[0]} 2026-12-01", $"{first} 2026-12-02"], await WhoAsync());

        // Cancelled, it is free; and once the other gave it back the undo is possible.
        var cancel = Guid.NewGuid().ToString();
        await DoneAsync(SignedIn.SendFormAsync(coordinator, "/follow-up?handler=Appointment", ("infant", others[0]), ("Step", "Diagnosis"),
            ("AppointmentOn", "2026-12-01"), ("Kind", "Cancelled"), ("Key", cancel)));
        Assert.Equal([$"{first} 2026-12-02"], await WhoAsync());
        await DoneAsync(BookAsync(coordinator, others[1], ids[0]));
        await DoneAsync(SignedIn.SendFormAsync(coordinator, "/follow-up?handler=Undo", ("infant", others[0]), ("key", cancel)));
        Assert.Equal([$"{others[1]} 2026-12-01", $"{first} 2026-12-02"], await WhoAsync());

        async Task DoneAsync(Task<HttpResponseMessage> sent)
        {
            using var answer = await sent;
            Assert.Equal(HttpStatusCode.Redirect, answer.StatusCode);
        }

        async Task<int> StandingAsync() => (await WhoAsync()).Count;

        Task<List<string>> WhoAsync() => bed.ListAsync(
            """
            select k.infant_id || ' ' || a.appointment_on from booked_openings k join appointments a on a.id = k.appointment_id
             where a.superseded_at is null and not exists (select from appointments e where e.infant_id = a.infant_id
               and e.appointment_on = a.appointment_on and e.superseded_at is null and e.kind in ('moved', 'cancelled'))
             order by a.appointment_on
            """);
    }

    [Fact]
    public async Task One_that_is_withdrawn_past_or_of_another_step_is_not_taken_and_a_day_without_an_opening_is()
    {
        await using var bed = await WorkBed.StartAsync(database);
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        using (await StateAsync(coordinator, "2026-12-01", "10:30", site: "hill")) { }
        using (await StateAsync(coordinator, "2026-12-01", "11:30", site: "hill", step: "screening")) { }
        using (await StateAsync(coordinator, "2026-12-03", "10:30", site: "hill")) { }
        var ids = await bed.ListAsync("select id from clinic_openings order by opens_on, starts_at");
        using (var gone = await SignedIn.SendFormAsync(coordinator, "/clinic/openings?site=hill&handler=Withdraw", ("opening", ids[0])))
            Assert.Equal(HttpStatusCode.Redirect, gone.StatusCode);
        await bed.App.AsOwnerAsync($"update clinic_openings set opens_on = '2026-11-24' where id = '{ids[2]}'");
        var infant = await WorkBed.IdAsync(bed, "W-1");
        foreach (var opening in ids.Append(Guid.NewGuid().ToString()))
        {
            using var refused = await BookAsync(coordinator, infant, opening);
            Assert.Equal(HttpStatusCode.UnprocessableEntity, refused.StatusCode);
        }

        using (var both = await BookAsync(coordinator, infant, ids[1], ("AppointmentOn", "2026-12-04")))
            Assert.Equal(HttpStatusCode.UnprocessableEntity, both.StatusCode);
        var page = await coordinator.GetStringAsync($"/follow-up?infant={infant}", IntakeBed.Ct);
        Assert.DoesNotContain(ids[0], page, StringComparison.Ordinal);
        Assert.DoesNotContain(ids[2], page, StringComparison.Ordinal);
        Assert.Equal(0, await bed.CountAsync("contacts"));
        using (await WorkBed.CallAsync(coordinator, infant, "AppointmentMade", ("AppointmentOn", "2026-12-04"))) { }
        Assert.Equal((1, 0), (await bed.CountAsync("appointments"), await bed.CountAsync("booked_openings")));
    }

    [Fact]
    public async Task Before_discharge_the_rescreen_is_booked_from_the_ward_list()
    {
        await using var bed = await WorkBed.StartAsync(database, rows:
            "birth,W-7,2026-11-24,08:00,,female,Ilse,Ada,Moor,1990-01-01,en,555-0143,,,,\n"
            + "screening,W-7,,,,,,,,,,,right,refer,aabr,2026-11-25T07:00\nscreening,W-7,,,,,,,,,,,left,pass,aabr,2026-11-25T07:05\n");
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        using (await StateAsync(coordinator, "2026-12-02", "10:30", site: "hill", step: "screening")) { }
        using var screener = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        var (infant, opening) = (await WorkBed.IdAsync(bed, "W-7"), (await bed.ListAsync("select id from clinic_openings"))[0]);
        Assert.Contains($"/infants/{infant}/book", await screener.GetStringAsync("/ward", IntakeBed.Ct), StringComparison.Ordinal);
        Assert.Contains(opening, await screener.GetStringAsync($"/infants/{infant}/book", IntakeBed.Ct), StringComparison.Ordinal);
        using (var none = await SignedIn.SendFormAsync(screener, $"/infants/{infant}/book", ("Step", "Screening"),
            ("Key", Guid.NewGuid().ToString())))
            Assert.Equal(HttpStatusCode.UnprocessableEntity, none.StatusCode);
        using (var booked = await SignedIn.SendFormAsync(screener, $"/infants/{infant}/book", ("Step", "Screening"), ("Opening", opening),
            ("Key", Guid.NewGuid().ToString())))
            Assert.Equal("/ward", booked.Headers.Location?.OriginalString);
        Assert.Equal(["screening 2026-12-02 10:30:00"], await bed.ListAsync(
            "select concat_ws(' ', step, appointment_on, appointment_time) from appointments"));
        Assert.Equal(["appointment_made in_person Screener"], await bed.ListAsync(
            "select concat_ws(' ', outcome, channel, p.display_name) from contacts c join people p on p.id = c.entered_by"));
    }

    [Fact]
    public async Task Nobody_states_withdraws_or_books_what_is_not_theirs()
    {
        await using var bed = await WorkBed.StartAsync(database);
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        using (await StateAsync(coordinator, "2026-12-01", "10:30", site: "hill")) { }
        var (opening, infant) = ((await bed.ListAsync("select id from clinic_openings"))[0], await WorkBed.IdAsync(bed, "W-1"));
        var tarn = await bed.AddSiteAsync("tarn", SiteKind.AudiologyClinic);
        using var other = await SignedIn.AsAsync(bed, Role.AudiologyClinic, tarn);
        using var screener = await SignedIn.AsAsync(bed, Role.Screener, bed.Hill);
        using var records = await SignedIn.AsAsync(bed, Role.VitalRecords, bed.Hill);
        using var worker = await SignedIn.AsAsync(bed, Role.CaseWorker, null, "Lind");
        foreach (var client in new[] { other, screener, records, worker })
        {
            using (var stated = await StateAsync(client, "2026-12-02", "10:30", site: "hill"))
                Assert.False(IsDone(stated));
            using (var gone = await SignedIn.SendFormAsync(client, "/clinic/openings?handler=Withdraw", ("opening", opening)))
                Assert.False(IsDone(gone));
        }

        // Another clinic books nobody it does not see; what cannot be read, or is out of bounds, is not stated.
        foreach (var page in new[] { $"/infants/{infant}/book", $"/infants/{Guid.NewGuid()}/book" })
        {
            using (var seen = await other.GetAsync(page, IntakeBed.Ct)) Assert.Equal(HttpStatusCode.NotFound, seen.StatusCode);
            using var sent = await SignedIn.SendFormAsync(other, page, ("Step", "Diagnosis"), ("Opening", opening),
                ("Key", Guid.NewGuid().ToString()));
            Assert.Equal(HttpStatusCode.NotFound, sent.StatusCode);
        }

        using (var unknown = await StateAsync(coordinator, "2026-12-02", "10:30", site: "nowhere"))
            Assert.Equal(HttpStatusCode.NotFound, unknown.StatusCode);
        foreach (var (day, time, minutes, capacity, step) in new[]
        {
            ("2026-11-24", "10:30", 60, 1, "diagnosis"), ("2028-11-24", "10:30", 60, 1, "diagnosis"),
            ("2026-12-02", "10:30", 0, 1, "diagnosis"), ("2026-12-02", "10:30", 60, 0, "diagnosis"),
            ("2026-12-02", "10:30", 60, 10_000, "diagnosis"), ("2026-12-02", "10:30", 60, 1, "intervention"),
            ("2026-12-02", "25:30", 60, 1, "diagnosis"), ("soon", "10:30", 60, 1, "diagnosis"), ("2026-12-02", "10:30", 60, 1, "7"),
        })
            using (var refused = await StateAsync(coordinator, day, time, capacity, 1, "hill", step, minutes))
                Assert.Equal(HttpStatusCode.UnprocessableEntity, refused.StatusCode);
        Assert.Equal((1, 0), (await bed.CountAsync("clinic_openings where withdrawn_at is null"), await bed.CountAsync("appointments")));
        Assert.Equal(["added_1"], await bed.ListAsync("select note from access_records where kind = 'openings_stated'"));
    }

    /// <summary>Sent on to the openings, and not to the page that says it is denied.</summary>
    private static bool IsDone(HttpResponseMessage answer) => answer.StatusCode == HttpStatusCode.Redirect
        && answer.Headers.Location!.OriginalString.StartsWith("/clinic", StringComparison.Ordinal);

    private static Task<HttpResponseMessage> BookAsync(
        HttpClient client, string infant, string opening, params (string, string)[] more) =>
        WorkBed.CallAsync(client, infant, "AppointmentMade", [("Opening", opening), .. more]);

    private static Task<HttpResponseMessage> StateAsync(HttpClient client, string day, string time, int places = 1, int weeks = 1,
        string? site = null, string step = "diagnosis", int minutes = 60) =>
        SignedIn.SendFormAsync(client, "/clinic/openings" + (site is null ? "" : $"?site={site}"), ("opensOn", day), ("startsAt", time),
            ("minutes", $"{minutes}"), ("capacity", $"{places}"), ("step", step), ("weeks", $"{weeks}"));
}
