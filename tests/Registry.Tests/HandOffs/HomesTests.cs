using System.Net;
using Registry.Records;
using Registry.Tests.FollowUp;
using Registry.Tests.Intake;

namespace Registry.Tests.HandOffs;

/// <summary>What a clinic and an early-intervention program find on their home pages; and, before a family's consent, what a program does
/// not find anywhere.</summary>
public sealed class HomesTests(TestDatabase database)
{
    [Fact]
    public async Task A_clinic_finds_what_was_handed_to_it_its_appointments_and_the_results_it_owes()
    {
        await using var beds = await HandOffBed.StartAsync(database);
        var bed = beds.Bed;
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        using var clinic = await SignedIn.AsAsync(bed, Role.AudiologyClinic, beds.Clinic);
        Assert.Contains("Nothing waits", await clinic.GetStringAsync("/clinic", IntakeBed.Ct), StringComparison.Ordinal);

        var (_, marlow) = await beds.HandedAsync(coordinator, "W-1", "clinic", "cove");
        var (berg, handed) = await beds.HandedAsync(coordinator, "W-3", "clinic", "cove");
        using (await HandOffBed.SayAsync(clinic, "/clinic", handed, "Accepted")) { }
        using (await WorkBed.CallAsync(coordinator, await WorkBed.IdAsync(bed, "W-2"), "AppointmentMade",
            ("AppointmentOn", "2026-11-25"), ("AppointmentTime", "09:30"), ("AppointmentSite", "cove"))) { }
        using (await SignedIn.SendFormAsync(coordinator, $"/infants/{await WorkBed.IdAsync(bed, "W-1")}/ask",
            ("ToSite", "cove"), ("Step", "Diagnosis"))) { }

        Assert.Equal(["appointment Ada Quist", "to_acknowledge Ada Marlow", "result_to_enter Ada Berg", "result_asked Ada Marlow"],
            (await LinesAsync(clinic, "")).Order(Comparer<string>.Create((a, b) => Order(a) - Order(b))));
        var page = WebUtility.HtmlDecode(await clinic.GetStringAsync("/clinic", IntakeBed.Ct));
        foreach (var said in new[] { "3 infants to see to", "1 of 1 appointment today", "Today, 09:30: diagnosis",
            $"/infants/{berg}/enter/diagnosis" }) Assert.Contains(said, page, StringComparison.Ordinal);
        Assert.Equal(["to_acknowledge Ada Marlow"], await LinesAsync(clinic, "&show=to_acknowledge"));
        Assert.Empty(await LinesAsync(clinic, "&site=hill"));

        // A result that was sent is owed no more; one that is not here is said so; returned, the infant is gone from the list.
        await bed.SendAsync(
            "kind,record_number,birth_date,sex,mother_given_name,mother_family_name,evaluated_on,right_finding,left_finding\n"
                + "diagnosis,COVE-3,2026-10-01,female,Ada,Berg,2026-11-25,normal,normal\n", beds.Clinic);
        Assert.Equal(["accepted"], await bed.ListAsync(
            "select r.outcome from submission_rows r join diagnoses d using (submission_id, row_number)"));
        var request = (await bed.ListAsync("select id from answer_requests"))[0];
        using (await SignedIn.SendFormAsync(clinic, "/clinic?handler=Nothing", ("request", request))) { }
        using (await HandOffBed.SayAsync(clinic, "/clinic", marlow, "Returned", ("reason", "not_our_area"))) { }
        Assert.Equal(["appointment Ada Quist"], await LinesAsync(clinic, ""));
        using var other = await SignedIn.AsAsync(bed, Role.AudiologyClinic, bed.Hill);
        Assert.Empty(await LinesAsync(other, ""));
        using (var answer = await SignedIn.SendFormAsync(other, "/clinic?handler=Nothing", ("request", request)))
            Assert.Equal(HttpStatusCode.NotFound, answer.StatusCode);
        using (var answer = await coordinator.GetAsync("/clinic", IntakeBed.Ct)) Assert.Equal(HttpStatusCode.NotFound, answer.StatusCode);

        static int Order(string line) =>
            Array.IndexOf(["appointment", "to_acknowledge", "result_to_enter", "result_asked"], line.Split(' ')[0]);
    }

    /// <summary>Care that passed to a clinic by a transfer waits there while an evaluation is due, once.</summary>
    [Fact]
    public async Task A_clinic_finds_who_was_transferred_to_it_and_whom_a_hand_off_is_for()
    {
        await using var beds = await HandOffBed.StartAsync(database);
        var bed = beds.Bed;
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        using var clinic = await SignedIn.AsAsync(bed, Role.AudiologyClinic, beds.Clinic);
        await bed.SendAsync("kind,record_number,to_site,transferred_on\n" + string.Concat(
            new[] { "W-1", "W-2", "W-3" }.Select(w => $"transfer,{w},cove,2026-11-20\n")));
        using (await WorkBed.CallAsync(coordinator, await WorkBed.IdAsync(bed, "W-2"), "AppointmentMade",
            ("AppointmentOn", "2026-12-01"), ("AppointmentSite", "cove"))) { }
        await beds.HandedAsync(coordinator, "W-3", "clinic", "cove", ("ForWhom", " Dr. Imke Vale "));
        Assert.Equal(["appointment Ada Quist", "result_to_enter Ada Marlow", "to_acknowledge Ada Berg"],
            (await LinesAsync(clinic, "")).Order(StringComparer.Ordinal));
        foreach (var page in new[] { "/clinic", $"/infants/{await WorkBed.IdAsync(bed, "W-3")}" })
            Assert.Contains("Dr. Imke Vale", await clinic.GetStringAsync(page, IntakeBed.Ct), StringComparison.Ordinal);
        Assert.Equal(0, await bed.CountAsync("hand_offs where for_whom like '%Vale%'"));

        await bed.SendAsync(
            "kind,record_number,birth_date,sex,mother_given_name,mother_family_name,evaluated_on,right_finding,left_finding\n"
                + "diagnosis,COVE-1,2026-10-10,female,Ada,Marlow,2026-11-25,normal,normal\n", beds.Clinic);
        Assert.DoesNotContain("result_to_enter Ada Marlow", await LinesAsync(clinic, ""));
    }

    [Fact]
    public async Task Before_the_familys_consent_a_program_is_shown_the_referral_and_nothing_else_anywhere()
    {
        await using var beds = await HandOffBed.StartAsync(database);
        var bed = beds.Bed;
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        using var program = await SignedIn.AsAsync(bed, Role.InterventionProgram, beds.Program);
        var (infant, handOff) = await beds.HandedAsync(coordinator, "W-2", "intervention_program", "first-steps");
        using (var said = await HandOffBed.SayAsync(program, "/early-intervention", handOff, "Received"))
            Assert.Equal("/early-intervention", said.Headers.Location!.OriginalString);
        using (await HandOffBed.SayAsync(program, "/early-intervention", handOff, "Accepted")) { }

        var page = WebUtility.HtmlDecode(await program.GetStringAsync("/early-intervention", IntakeBed.Ct));
        foreach (var carried in new[] { "Ada Quist", "child Ilse", "10 Oct 2026", "555-0142", "Waiting for consent", "9 Jan 2027" })
            Assert.Contains(carried, page, StringComparison.Ordinal);
        var sheet = await program.GetStringAsync("/early-intervention?handler=csv", IntakeBed.Ct);
        foreach (var shown in new[] { HandOffBed.Said(page), sheet })
            foreach (var kept in new[]
                { "W-2", "refer ", "Refer ", "both ears", "Both ears", "AABR", "aabr", "1985", $"/infants/{infant}" })
                Assert.DoesNotContain(kept, shown, StringComparison.Ordinal);

        // Nor by any other door: the record, its forms, the lists, a search, the measures of the record, a file's answer.
        foreach (var path in new[] { "", "/hand-offs", "/enter/intervention", "/screen", "/ask", "/kept" })
            using (var answer = await program.GetAsync($"/infants/{infant}{path}", IntakeBed.Ct))
                Assert.True(answer.StatusCode is HttpStatusCode.NotFound or HttpStatusCode.Redirect);
        foreach (var path in new[] { "/infants", "/follow-up", "/follow-up?handler=csv", "/clinic", "/", "/ward" })
            Assert.DoesNotContain("Quist", await program.GetStringAsync(path, IntakeBed.Ct), StringComparison.Ordinal);
        using (var found = await SignedIn.SendFormAsync(program, "/find", ("words", "Quist"), ("Words", "Quist")))
            Assert.DoesNotContain("Ada", SignedIn.Plain(await found.Content.ReadAsStringAsync(IntakeBed.Ct)), StringComparison.Ordinal);
        foreach (var path in new[] { $"/fhir/Patient/{infant}", $"/fhir/Patient/{infant}/$everything" })
            using (var answer = await program.GetAsync(path, IntakeBed.Ct)) Assert.Equal(HttpStatusCode.NotFound, answer.StatusCode);
        // The receipt is known to the rules, and did not open the record.
        Assert.Equal(["harbour"], await bed.ListAsync(
            "select s.code from interventions i join sites s on s.id = i.site_id where i.kind = 'referral_received'"));
        Assert.Equal(0, await bed.CountAsync($"infant_sites where site_id = '{beds.Program.Value}'"));
        // Nor does a booking there, by whatever door, nor care that is said to be passed there.
        await BookedAtProgramAsync(bed, coordinator, infant);
        Assert.Equal(0, await bed.CountAsync($"infant_sites where site_id = '{beds.Program.Value}'"));
        Assert.False(await beds.SeesAsync(program, infant));
        // A program's own word that the family consented opens nothing, nor does what it reports about the infant.
        using (var said = await HandOffBed.SayAsync(
            program, "/early-intervention", handOff, "ConsentRecorded", ("consentOn", "2026-11-24")))
            Assert.Equal(HttpStatusCode.NotFound, said.StatusCode);
        await bed.SendAsync("kind,record_number,birth_date,sex,mother_given_name,mother_family_name,event,happened_on\n"
            + "intervention,FS-2,2026-10-10,female,Ada,Quist,enrolled,2026-11-24\n", beds.Program);
        Assert.False(await beds.SeesAsync(program, infant));

        using (await HandOffBed.SayAsync(
            coordinator, $"/infants/{infant}/hand-offs", handOff, "ConsentRecorded", ("consentOn", "2026-11-24"))) { }
        Assert.True(await beds.SeesAsync(program, infant));
        page = WebUtility.HtmlDecode(await program.GetStringAsync("/early-intervention", IntakeBed.Ct));
        Assert.Contains($"/infants/{infant}/enter/intervention", page, StringComparison.Ordinal);
        // Withdrawn, for instance because the family took its consent back, it closes.
        using (await HandOffBed.SayAsync(
            coordinator, $"/infants/{infant}/hand-offs", handOff, "Withdrawn", ("reason", "family_declined"))) { }
        Assert.DoesNotContain("Quist", await program.GetStringAsync("/early-intervention", IntakeBed.Ct), StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_referral_sent_with_consent_is_acknowledged_enrolled_and_planned()
    {
        await using var beds = await HandOffBed.StartAsync(database);
        var bed = beds.Bed;
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        using var program = await SignedIn.AsAsync(bed, Role.InterventionProgram, beds.Program);
        var (infant, handOff) = await beds.HandedAsync(
            coordinator, "W-2", "intervention_program", "first-steps", ("ConsentOn", "2026-11-20"));
        Assert.True(await beds.SeesAsync(program, infant));
        Assert.Equal("to_acknowledge", await StageAsync());
        using (await HandOffBed.SayAsync(program, "/early-intervention", handOff, "Accepted")) { }
        Assert.Equal("to_enroll", await StageAsync());
        await EventAsync("enrolled", 1);
        Assert.Equal("plan_due", await StageAsync());
        await EventAsync("service_plan", 2);
        Assert.Equal("in_services", await StageAsync("&show=in_services"));
        var near = await bed.AddSiteAsync("near", SiteKind.InterventionProgram);
        using var other = await SignedIn.AsAsync(bed, Role.InterventionProgram, near);
        Assert.DoesNotContain("Quist", await other.GetStringAsync("/early-intervention", IntakeBed.Ct), StringComparison.Ordinal);

        async Task EventAsync(string kind, int number) => await bed.SendAsync(
            "kind,record_number,birth_date,sex,mother_given_name,mother_family_name,event,happened_on\n"
                + $"intervention,FS-2,2026-10-10,female,Ada,Quist,{kind},2026-11-2{3 + number}\n", beds.Program);

        async Task<string> StageAsync(string query = "")
        {
            var lines = (await program.GetStringAsync($"/early-intervention?handler=csv{query}", IntakeBed.Ct)).Split("\r\n");
            return lines[1].Split(',')[0];
        }
    }

    /// <summary>An appointment at the program from the call panel, the booking page, the record, the form of its kind and a file; a
    /// transfer to it from its form and a file.</summary>
    private static async Task BookedAtProgramAsync(IntakeBed bed, HttpClient coordinator, string infant)
    {
        using (await WorkBed.CallAsync(
            coordinator, infant, "AppointmentMade", ("AppointmentOn", "2026-12-01"), ("AppointmentSite", "first-steps"))) { }
        foreach (var (path, on, booked) in new[]
            { ($"/infants/{infant}/book", "2026-12-02", "2026-12-01"), ($"/infants/{infant}?handler=Contact", "2026-12-03", "2026-12-02") })
        {
            using var sent = await SignedIn.SendFormAsync(coordinator, path, ("Step", "Diagnosis"), ("Outcome", "AppointmentMade"),
                ("AttemptedOn", "2026-11-25"), ("AppointmentOn", on), ("BookedOn", booked), ("AppointmentSite", "first-steps"),
                ("Key", Guid.NewGuid().ToString()));
            Assert.Equal(HttpStatusCode.Redirect, sent.StatusCode);
        }

        const string Header = "kind,record_number,step,appointment,happened_on,appointment_on,appointment_site,to_site,transferred_on\n";
        await bed.SendAsync(Header + "appointment,W-2,intervention,made,2026-11-24,2026-12-08,first-steps,,\n");
        await bed.SendAsync(Header + "transfer,W-2,,,,,,first-steps,2026-11-20\n");
        foreach (var (kind, columns) in new (string, (string, string)[])[]
        {
            ("appointment", [("step", "intervention"), ("appointment", "made"), ("happened_on", "2026-11-25"),
                ("appointment_on", "2026-12-09"), ("appointment_site", "first-steps")]),
            ("transfer", [("to_site", "first-steps"), ("transferred_on", "2026-11-20")]),
        })
        {
            using var typed = await WorkBed.TypeAsync(
                coordinator, $"/infants/{infant}/enter/{kind}", columns, ("Form.Site", "harbour"), ("Form.Confirmed", "true"));
            if (kind != "transfer") Assert.Equal(HttpStatusCode.Redirect, typed.StatusCode); // a transfer is in no table, below
        }

        Assert.Equal(["2026-12-01", "2026-12-02", "2026-12-03", "2026-12-08", "2026-12-09"], await bed.ListAsync(
            "select a.appointment_on::text from appointments a join sites s on s.id = a.appointment_site_id where a.kind = 'made' order by 1"));
        Assert.Equal(0, await bed.CountAsync("transfers"));
        var refused = await bed.ListAsync("select problems::text from submission_rows where outcome = 'rejected'");
        Assert.NotEmpty(refused);
        Assert.All(refused, why => Assert.Contains("early-intervention program", why, StringComparison.Ordinal));
        // Nor does one that is in the database already, from before it was refused.
        await bed.App.AsOwnerAsync($"insert into transfers (id, infant_id, site_id, recorded_at, transferred_on, to_site_id) "
            + $"select gen_random_uuid(), '{infant}', '{bed.Harbour.Value}', now(), '2026-11-20', id from sites where code = 'first-steps'");
    }

    private static async Task<IReadOnlyList<string>> LinesAsync(HttpClient client, string query) =>
        [.. (await client.GetStringAsync($"/clinic?handler=csv{query}", IntakeBed.Ct)).Split("\r\n", StringSplitOptions.RemoveEmptyEntries)
            .Skip(1).Select(l => l.Split(',')).Select(c => $"{c[0]} {c[3]}")];
}
