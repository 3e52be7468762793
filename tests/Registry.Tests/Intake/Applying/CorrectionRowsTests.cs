using Microsoft.Extensions.DependencyInjection;
using Registry.Facts;
using Registry.Infants.Record;
using Registry.Intake.HeldRows;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Tests.Reporting.Measures;

namespace Registry.Tests.Intake.Applying;

/// <summary>A site corrects or retracts what it said: applied at once, never to another site's words, nothing lost, and the same file
/// sent again changes nothing.</summary>
public sealed class CorrectionRowsTests(TestDatabase database)
{
    private const string Header = "action,kind," + IntakeBed.Who + ",ear,outcome,method,performed_at\n";
    private const string Birth = ",birth,A1,C1,2026-11-01,female,,Ada,Marlow,1995-02-03,,,,\n";

    private static string Screen(string action, string outcome, string at = "2026-11-02T09:15") =>
        $"{action},screening,A1,,,,,,,,right,{outcome},oae,{at}\n";

    private static Task<List<string>> ScreensAsync(IntakeBed bed) => bed.ListAsync(
        """
        select concat_ws(' ', f.outcome, case when f.superseded_at is null then 'holds' else 'closed' end, c.action, s.code)
          from screenings f left join corrections c on c.fact_id = f.id left join sites s on s.id = c.site_id order by f.recorded_at, f.id
        """);

    private static async Task<List<string>> SendAsync(IntakeBed bed, string rows, int daysAgo = 0, SiteId? site = null) =>
        await bed.OutcomesAsync(await bed.SendAsync(Header + rows, site, at: bed.Now.AddDays(-daysAgo)));

    [Fact]
    public async Task A_correction_replaces_what_its_site_said_and_every_file_sent_again_changes_nothing()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        string reported = Birth + Screen("", "pass"), corrected = Screen("correct", "refer");
        Assert.Equal(["accepted", "accepted"], await SendAsync(bed, reported, 9));
        Assert.Equal(["accepted"], await SendAsync(bed, corrected, 7));
        Assert.Equal(["pass closed correct harbour", "refer holds"], await ScreensAsync(bed));
        Assert.Equal(["refer"], await bed.ListAsync("select right_ear from infant_status"));

        Assert.Equal(["unchanged", "unchanged"], await SendAsync(bed, reported, 6));
        Assert.Equal(["unchanged"], await SendAsync(bed, corrected, 5));
        Assert.Equal(["pass closed correct harbour", "refer holds"], await ScreensAsync(bed));
        // A third word that is no correction is still a contradiction.
        Assert.Equal(["held contradicts_record"],
            await SendAsync(bed, Screen("report", "refer").Replace("oae", "aabr", StringComparison.Ordinal), 4));
    }

    [Fact]
    public async Task A_correction_of_nothing_is_news_and_a_late_first_report_does_not_undo_it()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        Assert.Equal(["accepted", "accepted", "unchanged"], await SendAsync(
            bed, Birth + Screen("correct", "refer") + Screen("correct", "refer"), 3));
        Assert.Equal(["held contradicts_record"], await SendAsync(bed, Screen("", "pass"), 2));
        Assert.Equal(["refer holds"], await ScreensAsync(bed));
    }

    [Fact]
    public async Task A_retracted_test_no_longer_counts_stays_readable_and_comes_back_only_by_a_correction()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        string reported = Birth + Screen("", "refer"), retracted = "retract,screening,A1,,,,,,,,right,,,2026-11-02T09:15\n";
        await SendAsync(bed, reported, 9);
        Assert.Equal(["accepted", "unchanged"], await SendAsync(bed, retracted + retracted, 7));
        Assert.Equal(["refer closed retract harbour"], await ScreensAsync(bed));
        Assert.Equal(["not_screened"], await bed.ListAsync("select right_ear from infant_status"));

        Assert.Equal(["unchanged", "unchanged"], await SendAsync(bed, reported, 6));
        Assert.Equal(["unchanged"], await SendAsync(bed, retracted, 5));
        Assert.Equal(["refer closed retract harbour"], await ScreensAsync(bed));

        Assert.Equal(["accepted"], await SendAsync(bed, Screen("correct", "refer"), 4));
        Assert.Equal(["refer closed retract harbour", "refer holds"], await ScreensAsync(bed));
    }

    [Fact]
    public async Task A_wrong_time_is_retracted_and_reported_anew_in_one_file()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await SendAsync(bed, Birth + Screen("", "pass"), 3);
        Assert.Equal(["accepted", "accepted"],
            await SendAsync(bed, Screen("report", "pass", "2026-11-02T19:15") + Screen("retract", ""), 2));
        Assert.Equal(["2026-11-02 19:15:00"], await bed.ListAsync("select performed_at::text from screenings where superseded_at is null"));
    }

    [Fact]
    public async Task Nobody_corrects_or_retracts_another_sites_words()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await SendAsync(bed, Birth + Screen("", "refer"), 3);
        const string test = "screening,X9,C1,2026-11-01,,,,Marlow,,right,pass,oae,2026-11-02T09:15\n";
        Assert.Equal(["accepted", "accepted", "held nothing_recorded"],
            await SendAsync(bed, "correct," + test + "retract," + test + "retract,birth,,C1,,,,,,,,,,\n", 2, bed.Hill));
        Assert.Equal(["refer holds", "pass closed retract hill"], await ScreensAsync(bed));
        Assert.Equal(1, await bed.CountAsync("births where superseded_at is null"));
    }

    [Fact]
    public async Task A_site_that_took_back_all_it_said_no_longer_sees_the_record()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await SendAsync(bed, Birth, 3);
        const string test = "screening,,C1,2026-11-01,,,,Marlow,,right,pass,oae,2026-11-02T09:15\n";
        await SendAsync(bed, "," + test, 2, bed.Hill);
        var hill = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Hill);
        var page = $"/infants/{(await bed.ListAsync("select id from infants"))[0]}";
        Assert.True((await hill.GetAsync(page, IntakeBed.Ct)).IsSuccessStatusCode);
        Assert.Equal(["accepted"], await SendAsync(bed, "retract," + test, 1, bed.Hill));
        Assert.Equal(System.Net.HttpStatusCode.NotFound, (await hill.GetAsync(page, IntakeBed.Ct)).StatusCode);
    }

    [Fact]
    public async Task A_retraction_that_overtook_its_report_waits_for_it()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var early = await bed.SendAsync(Header + Screen("retract", ""), at: bed.Now.AddDays(-5));
        Assert.Equal(["held no_such_infant"], await bed.OutcomesAsync(early));
        await SendAsync(bed, Birth, 4);
        Assert.Equal(["held nothing_recorded"], await bed.OutcomesAsync(early));
        await SendAsync(bed, Screen("", "refer"), 3);
        Assert.Equal(["accepted"], await bed.OutcomesAsync(early));
        Assert.Equal(["refer closed retract harbour"], await ScreensAsync(bed));
    }

    [Fact]
    public async Task A_retraction_does_not_take_back_what_a_later_row_of_its_file_says()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await SendAsync(bed, Birth, 4);
        Assert.Equal(["unchanged", "accepted", "unchanged", "accepted"], await SendAsync(
            bed, "retract" + Birth + ",birth,A1,,2026-11-01,,,Ada,Marlowe,,,,,\n" + Screen("retract", "") + Screen("", "refer")));
        Assert.Equal(["Marlowe"], await bed.ListAsync("select mother_family_name from births where superseded_at is null"));
        Assert.Equal(["refer holds"], await ScreensAsync(bed));
    }

    [Fact]
    public async Task The_past_stays_as_it_was_known()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await SendAsync(bed, Birth + Screen("", "refer"), 9);
        await SendAsync(bed, Screen("correct", "pass"), 6);
        await SendAsync(bed, Screen("retract", ""), 3);
        await using var connection = await bed.Source.OpenConnectionAsync(IntakeBed.Ct);
        var infant = Guid.Parse((await bed.ListAsync("select id from infants"))[0]);
        var known = new List<string>();
        foreach (var daysAgo in (int[])[8, 5, 2])
        {
            var facts = await FactsForRules.KnownAtAsync(connection, [infant], bed.Now.AddDays(-daysAgo), IntakeBed.Ct);
            known.Add(string.Join(',', facts.Single().Facts.Tests.Select(t => Codes.Of(t.Outcome))));
        }

        Assert.Equal(["refer", "pass", ""], known);
    }

    [Fact]
    public async Task Every_kind_of_row_can_be_corrected_and_retracted()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        const string header = "action,kind,record_number,birth_date,sex,evaluated_on,right_finding,left_finding,event,happened_on,died_on,move,moved_on,to_site,transferred_on,step,refused_on,revoked_on,indicator,noted_on,attempted_on,contact_outcome,admitted_on,raises_risk,from_on,ended_on\n";
        static string Row(string action, string rest) => $"{action},{rest}{new string(',', 24 - rest.Count(c => c == ','))}\n";
        (string Said, string Corrected, string Named)[] rows =
        [
            ("diagnosis,A1,,,2026-10-20,sensorineural,normal", "diagnosis,A1,,,2026-10-20,mixed,normal", "diagnosis,A1,,,2026-10-20"),
            ("intervention,A1,,,,,,referred,2026-10-21", "intervention,A1,,,,,,referred,2026-10-22",
                "intervention,A1,,,,,,referred,2026-10-22"),
            ("death,A1,,,,,,,,2026-11-20", "death,A1,,,,,,,,2026-11-21", "death,A1,,,,,,,,2026-11-21"),
            ("move,A1,,,,,,,,,adopted,2026-11-01", "move,A1,,,,,,,,,adopted,2026-11-02", "move,A1,,,,,,,,,adopted,2026-11-02"),
            ("transfer,A1,,,,,,,,,,,hill,2026-10-10", "transfer,A1,,,,,,,,,,,harbour,2026-10-10", "transfer,A1,,,,,,,,,,,,2026-10-10"),
            ("refusal,A1,,,,,,,,,,,,,diagnosis,2026-10-11,2026-10-12", "refusal,A1,,,,,,,,,,,,,diagnosis,2026-10-11",
                "refusal,A1,,,,,,,,,,,,,diagnosis,2026-10-11"),
            ("risk,A1,,,,,,,,,,,,,,,,congenital_cmv,2026-10-05", "risk,A1,,,,,,,,,,,,,,,,congenital_cmv",
                "risk,A1,,,,,,,,,,,,,,,,congenital_cmv"),
            ("contact,A1,,,,,,,,,,,,,diagnosis,,,,,2026-10-12,no_response", "contact,A1,,,,,,,,,,,,,diagnosis,,,,,2026-10-12,reached",
                "contact,A1,,,,,,,,,,,,,diagnosis,,,,,2026-10-12,reached"),
            ("readmission,A1,,,,,,,,,,,,,,,,,,,,2026-10-08,true", "readmission,A1,,,,,,,,,,,,,,,,,,,,2026-10-08,false",
                "readmission,A1,,,,,,,,,,,,,,,,,,,,2026-10-08"),
            ("medical_delay,A1,,,,,,,,,,,,,screening,,,,,,,,,2026-10-03,2026-10-09",
                "medical_delay,A1,,,,,,,,,,,,,screening,,,,,,,,,2026-10-03", "medical_delay,A1,,,,,,,,,,,,,screening,,,,,,,,,2026-10-03"),
        ];
        string said = header + Row("", "birth,A1,2026-10-01,male") + string.Concat(rows.Select(r => Row("report", r.Said))),
            corrected = header + string.Concat(rows.Select(r => Row("correct", r.Corrected))),
            retracted = header + Row("retract", "birth,A1") + string.Concat(rows.Select(r => Row("retract", r.Named)));
        foreach (var file in (string[])[said, corrected])
        {
            Assert.All(await bed.OutcomesAsync(await bed.SendAsync(file, at: bed.Now.AddDays(-3))), o => Assert.Equal("accepted", o));
            Assert.All(await bed.OutcomesAsync(await bed.SendAsync(file, at: bed.Now.AddDays(-2))), o => Assert.Equal("unchanged", o));
        }

        Assert.All(await bed.OutcomesAsync(await bed.SendAsync(said, at: bed.Now.AddDays(-2))), o => Assert.Equal("unchanged", o));
        var tables = (string[])["diagnoses", "interventions", "deaths", "moves", "transfers", "refusals", "risks", "contacts",
            "readmissions", "medical_delays"];
        foreach (var table in tables)
            Assert.Equal((2, 1), (await bed.CountAsync(table), await bed.CountAsync($"{table} where superseded_at is null")));
        Assert.Equal(["2026-10-01"], await bed.ListAsync("select noted_on::text from risks where superseded_at is null"));

        // The birth too: everything that rested on it is retracted in the same file.
        Assert.All(await bed.OutcomesAsync(await bed.SendAsync(retracted, at: bed.Now.AddDays(-1))), o => Assert.Equal("accepted", o));
        foreach (var table in tables) Assert.Equal(0, await bed.CountAsync($"{table} where superseded_at is null"));
        Assert.Equal(0, await bed.CountAsync("infant_status"));
        foreach (var again in (string[])[retracted, said])
        {
            var outcomes = await bed.OutcomesAsync(await bed.SendAsync(again));
            Assert.Equal("unchanged", outcomes[0]);
            Assert.All(outcomes[1..], o => Assert.Equal("held no_such_infant", o));
        }
    }

    [Fact]
    public async Task A_birth_is_not_retracted_while_anything_rests_on_it_and_may_be_stated_anew()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await SendAsync(bed, Birth + Screen("", "refer"), 9);
        var waits = await bed.SendAsync(Header + "retract,birth,A1,,,,,,,,,,,\n", at: bed.Now.AddDays(-8));
        Assert.Equal(["held others_rest_on_it"], await bed.OutcomesAsync(waits));
        await SendAsync(bed, Screen("retract", ""), 7);
        Assert.Equal(["accepted"], await bed.OutcomesAsync(waits));
        Assert.Equal(0, await bed.CountAsync("infant_status"));

        // The number now belongs to another child: the infant was never born, so nothing contradicts it.
        var test = await bed.SendAsync(Header + Screen("", "pass", "2026-11-06T08:00"), at: bed.Now.AddDays(-6));
        Assert.Equal(["held no_such_infant"], await bed.OutcomesAsync(test));
        Assert.Equal(["accepted"], await SendAsync(bed, ",birth,A1,,2026-11-05,male,,Bea,Quist,1990-01-01,,,,\n", 5));
        Assert.Equal(["accepted"], await bed.OutcomesAsync(test));
        Assert.Equal(["2026-11-05 male"],
            await bed.ListAsync("select concat_ws(' ', born_on, sex) from births where superseded_at is null"));
        Assert.Equal(1, await bed.CountAsync("infants"));
    }

    [Fact]
    public async Task The_birth_site_corrects_a_birth_date_but_not_past_what_happened_and_not_another_mothers_child()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await SendAsync(bed, Birth + Screen("", "refer", "2026-11-03T09:15"), 9);
        Assert.Equal(["accepted", "rejected birth_date: is after something recorded for the infant", "held identifier_contradicted",
            "held identifier_contradicted"],
            await SendAsync(bed, """
                correct,birth,A1,C1,2026-11-02,male,,Ada,Marlow,,,,,
                correct,birth,A1,,2026-11-04,male,,Ada,Marlow,,,,,
                correct,birth,A1,,2026-11-03,male,,Bea,Quist,,,,,
                report,birth,A1,,2026-11-03,male,,Ada,Marlow,,,,,

                """, 8));
        // Stated whole: what the correction leaves out is no longer stated.
        Assert.Equal(["2026-11-02 male "],
            await bed.ListAsync("select concat(born_on, ' ', sex, ' ', mother_born_on) from births where superseded_at is null"));
        // Of a site that has nothing to do with the infant, and states another birth date, it is another infant's.
        Assert.Equal(["accepted"], await SendAsync(bed, "correct,birth,,C1,2026-11-01,male,,Ada,Marlow,,,,,\n", 7, bed.Hill));
        Assert.Equal(["2026-11-01 hill", "2026-11-02 harbour"], await bed.ListAsync(
            "select concat(born_on, ' ', s.code) from births b join sites s on s.id = b.site_id where superseded_at is null order by 1"));
    }

    [Fact]
    public async Task A_correction_that_may_mean_two_events_is_held()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        const string header = "action,kind,record_number,birth_date,sex,event,happened_on\n";
        await bed.SendAsync(header
            + ",birth,A1,2026-10-01,male,,\n,intervention,A1,,,service_plan,2026-11-01\n,intervention,A1,,,service_plan,2026-11-20\n");
        Assert.Equal(["held several_recorded", "unchanged", "accepted", "accepted"], await bed.OutcomesAsync(await bed.SendAsync(header + """
            correct,intervention,A1,,,service_plan,2026-11-02
            correct,intervention,A1,,,service_plan,2026-11-20
            retract,intervention,A1,,,service_plan,2026-11-01
            correct,intervention,A1,,,service_plan,2026-11-21

            """)));
        Assert.Equal(["2026-11-21"], await bed.ListAsync("select happened_on::text from interventions where superseded_at is null"));
    }

    [Fact]
    public async Task A_coordinators_decision_about_a_retraction_can_be_taken_back()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var by = new Decider((await bed.AddPersonAsync(Role.Coordinator)).Id);
        var resolve = bed.App.Services.GetRequiredService<DecideRow>();
        await SendAsync(bed, Birth + Screen("", "refer"), 9);
        // Known by too little to be sure: a coordinator says who it is.
        var id = await bed.SendAsync(Header + "retract,screening,,,2026-11-01,male,,,Marlow,1995-02-03,right,,,2026-11-02T09:15\n",
            at: bed.Now.AddDays(-8));
        Assert.Equal(["held partial_agreement"], await bed.OutcomesAsync(id));
        var infant = new InfantId(Guid.Parse((await bed.ListAsync("select id from infants"))[0]));
        Assert.Null((await resolve.MatchAsync(id, 1, infant, by, IntakeBed.Ct)).Refusal);
        Assert.Equal(["refer closed retract harbour"], await ScreensAsync(bed));
        Assert.Null(await bed.App.Services.GetRequiredService<TakeBackDecision>().RunAsync(id, 1, by, null, IntakeBed.Ct));
        Assert.Equal(["held partial_agreement"], await bed.OutcomesAsync(id));
        Assert.Equal(["refer"], await bed.ListAsync("select outcome from screenings where superseded_at is null"));
        Assert.Equal(["refer"], await bed.ListAsync("select right_ear from infant_status"));
        // What a person took back is not what the site retracted: the report is no news, and a new retraction works.
        Assert.Equal(["unchanged", "accepted"], await SendAsync(bed, Screen("", "refer") + Screen("retract", "")));
    }

    [Fact]
    public async Task The_record_page_shows_what_was_said_struck_through_with_who_and_when()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await SendAsync(bed, Birth + Screen("", "refer"), 9);
        await SendAsync(bed, Screen("correct", "pass"), 6);
        await SendAsync(bed, Screen("retract", ""), 3);
        await using var db = bed.App.OpenDb();
        var infant = new InfantId(Guid.Parse((await bed.ListAsync("select id from infants"))[0]));
        var screens = await ScreensAsync(bed.Now);
        Assert.Equal(
            [("Screen, right ear: pass", RowAction.Retract, "Harbour Hospital", 22),
                ("Screen, right ear: refer", RowAction.Correct, "Harbour Hospital", 19)],
            screens.Select(e => (e.What, e.Closed!.Action, e.Closed.Site, e.SupersededAt!.Value.Day)));
        Assert.All(await ScreensAsync(bed.Now.AddDays(-8)), e => Assert.Null(e.Closed));

        async Task<List<TimeLineEntry>> ScreensAsync(DateTimeOffset known) =>
            [.. (await TimeLine.ReadAsync(db, infant, known, [], IntakeBed.Ct)).Entries.Where(e => e.Fact is ReportedScreening)];
    }
}
