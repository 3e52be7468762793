using System.Net;
using System.Text.RegularExpressions;
using Registry.Intake.Typing;
using Registry.Records;
using Registry.Tests.FollowUp;

namespace Registry.Tests.Intake.Typing;

/// <summary>What a site reported is put right from the record: its own words only, by a row that corrects, and nothing is lost.</summary>
public sealed partial class CorrectFromRecordTests(TestDatabase database)
{
    private const string Rows =
        """
        kind,record_number,birth_date,sex,infant_given_name,mother_given_name,mother_family_name,mother_birth_date,discharged_on,language,ear,outcome,method,performed_at,stage,stimulus,event,happened_on
        birth,H-1,2026-11-20,female,Ilse,Ada,Marlow,1995-02-03,2026-11-22,es,,,,,,,,
        screening,H-1,,,,,,,,,right,refer,aabr,2026-11-21T09:15,birth_admission,click 35 dB,,
        screening,H-1,,,,,,,,,left,pass,aabr,2026-11-21T09:20,,,,
        intervention,H-1,,,,,,,,,,,,,,,referred,2026-11-23
        intervention,H-1,,,,,,,,,,,,,,,referred,2026-11-24

        """;

    private const string Births =
        "select concat_ws(' ', infant_given_name, sex, born_on, discharged_on, mother_given_name, language) from births "
            + "where superseded_at is null";

    private const string Tests = "select concat_ws(' ', ear, outcome, method, to_char(performed_at, 'HH24:MI'), stage, stimulus) "
        + "from screenings s left join screening_details d on d.screening_id = s.id where superseded_at is null order by performed_at";

    [Fact]
    public async Task A_birth_is_corrected_in_its_form_and_what_it_said_stays_readable()
    {
        await using var bed = await FilledAsync();
        using var client = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        var path = await LinkAsync(bed, client, "Correct: Birth");
        var form = await TypedForms.OpenAsync(client, path);
        Assert.Equal(("Ilse", "female", "2026-11-20", "2026-11-22", "Spanish"), (form[Column("infant_given_name")], form[Column("sex")],
            form[Column("birth_date")], form[Column("discharged_on")], form[Column("language")]));
        Assert.DoesNotContain(Column("record_number"), form.Keys);
        using var wrong = await TypedForms.PostAsync(client, path, form, ("discharged_on", "2026-11-01"));
        Assert.Equal(HttpStatusCode.UnprocessableEntity, wrong.StatusCode);
        using var same = await TypedForms.PostAsync(client, path, form);
        Assert.Contains("it would change nothing", await same.Content.ReadAsStringAsync(IntakeBed.Ct), StringComparison.Ordinal);
        using var saved = await TypedForms.PostAsync(client, path, form, ("infant_given_name", "Else"), ("sex", "male"),
            ("birth_date", "2026-11-19"), ("mother_given_name", ""));
        Assert.Equal($"/infants/{await WorkBed.IdAsync(bed, "H-1")}", saved.Headers.Location?.OriginalString);
        Assert.Equal(["Else male 2026-11-19 2026-11-22 es"], await bed.ListAsync(Births));
        Assert.Equal(["correct birth"], await bed.ListAsync("select action || ' ' || kind from corrections"));
        Assert.Equal(["1"], await bed.ListAsync("select count(*) from infants"));
        var record = WebUtility.HtmlDecode(await client.GetStringAsync(saved.Headers.Location, IntakeBed.Ct));
        Assert.Contains("Corrected", record, StringComparison.Ordinal);

        // Going back is another correction: to take the new words back would leave no birth at all.
        var entered = EnteredLink().Match(record).Groups[1].Value;
        var page = await client.GetStringAsync(entered, IntakeBed.Ct);
        Assert.Contains("To go back, correct it there again", page, StringComparison.Ordinal);
        using var undo = await SignedIn.SendFormAsync(client, entered + "&handler=Undo");
        Assert.Equal(HttpStatusCode.NotFound, undo.StatusCode);
        Assert.DoesNotContain("Undo: Birth", record, StringComparison.Ordinal);
    }

    [Fact]
    public async Task The_ear_of_a_test_is_corrected_and_what_it_measured_goes_with_it()
    {
        await using var bed = await FilledAsync();
        using var client = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        var path = await LinkAsync(bed, client, "Correct right ear, 09:15");
        var form = await TypedForms.OpenAsync(client, path);
        Assert.Equal(("right", "2026-11-21T09:15", "click 35 dB"),
            (form[Column("ear")], form[Column("performed_at")], form[Column("stimulus")]));
        using var saved = await TypedForms.PostAsync(client, path, form, ("outcome", "pass"));
        Assert.Equal(HttpStatusCode.Redirect, saved.StatusCode);
        Assert.Equal(["right pass aabr 09:15 birth_admission click 35 dB", "left pass aabr 09:20 unstated"], await bed.ListAsync(Tests));

        // What names the test was wrong: the old is taken back and the new stated, in one submission; pressed twice it is one.
        var again = await LinkAsync(bed, client, "Correct right ear, 09:15");
        form = await TypedForms.OpenAsync(client, again);
        using var moved = await TypedForms.PostAsync(client, again, form, ("ear", "left"), ("performed_at", "2026-11-21T09:40"));
        Assert.Equal(HttpStatusCode.Redirect, moved.StatusCode);
        Assert.Equal(["left pass aabr 09:20 unstated", "left pass aabr 09:40 birth_admission click 35 dB"], await bed.ListAsync(Tests));
        using var twice = await TypedForms.PostAsync(client, again, form, ("ear", "left"), ("performed_at", "2026-11-21T09:40"));
        Assert.Equal(HttpStatusCode.Redirect, twice.StatusCode);
        using var other = await TypedForms.PostAsync(client, again, form, ("ear", "left"), ("performed_at", "2026-11-21T09:45"));
        Assert.Contains(TypingWords.NotStored, WebUtility.HtmlDecode(await other.Content.ReadAsStringAsync(IntakeBed.Ct)),
            StringComparison.Ordinal);
        Assert.Equal(["2"], await bed.ListAsync("select count(*) from submissions where format = 'typed'"));

        // To where another test stands it does not go: neither is lost.
        var onto = await LinkAsync(bed, client, "Correct left ear, 09:40");
        using var refused = await TypedForms.PostAsync(client, onto, await TypedForms.OpenAsync(client, onto),
            ("performed_at", "2026-11-21T09:20"), ("outcome", "refer"), ("Form.Confirmed", "true"));
        Assert.Equal(HttpStatusCode.UnprocessableEntity, refused.StatusCode);
        Assert.Equal(2, (await bed.ListAsync(Tests)).Count);
    }

    [Fact]
    public async Task One_of_two_events_of_a_kind_is_corrected_and_the_other_stays()
    {
        await using var bed = await FilledAsync();
        using var client = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        var path = await LinkAsync(bed, client, "Correct: Early intervention, 23 Nov 2026");
        using var saved = await TypedForms.PostAsync(client, path, await TypedForms.OpenAsync(client, path), ("happened_on", "2026-11-22"));
        Assert.Equal(HttpStatusCode.Redirect, saved.StatusCode);
        Assert.Equal(["2026-11-22", "2026-11-24"],
            await bed.ListAsync("select happened_on::text from interventions where superseded_at is null order by 1"));
    }

    [Fact]
    public async Task An_evaluation_comes_with_every_threshold_and_loses_none()
    {
        await using var bed = await FilledAsync();
        await bed.SendAsync("kind,record_number,evaluated_on,right_finding,left_finding,right_air,left_abr,abr_scale,behavioral_method\n"
            + "diagnosis,H-1,2026-11-24,sensorineural,normal,500:45;1000:45m;2000:>110,click:20;3000:25,nhl,visual_reinforcement\n");
        using var client = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        var path = await LinkAsync(bed, client, "Correct: Diagnostic evaluation");
        var form = await TypedForms.OpenAsync(client, path);
        Assert.Equal(("45m", ">110", "25"),
            (form[Column("right_air_1000")], form[Column("right_air_2000")], form[Column("left_abr_3000")]));
        using var saved = await TypedForms.PostAsync(client, path, form, ("right_air_500", "50"), ("Form.Confirmed", "true"));
        Assert.Equal(HttpStatusCode.Redirect, saved.StatusCode);
        Assert.Equal(["500:50;1000:45m;2000:>110 click:20;3000:25 nhl visual_reinforcement"], await bed.ListAsync(
            "select concat_ws(' ', right_air, left_abr, abr_scale, behavioral_method) from diagnoses d "
                + "join evaluation_details t on t.diagnosis_id = d.id where superseded_at is null"));
    }

    [Fact]
    public async Task What_was_corrected_meanwhile_is_shown_and_neither_is_lost()
    {
        await using var bed = await FilledAsync();
        using var one = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        using var other = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        var path = await LinkAsync(bed, one, "Correct: Birth");
        var (mine, theirs) = (await TypedForms.OpenAsync(one, path), await TypedForms.OpenAsync(other, path));
        using (var first = await TypedForms.PostAsync(other, path, theirs, ("infant_given_name", "Elsa")))
            Assert.Equal(HttpStatusCode.Redirect, first.StatusCode);
        using var conflict = await TypedForms.PostAsync(one, path, mine, ("infant_given_name", "Else"));
        Assert.Equal(HttpStatusCode.Conflict, conflict.StatusCode);
        var page = await conflict.Content.ReadAsStringAsync(IntakeBed.Ct);
        Assert.Contains("Something was recorded since you opened this form", page, StringComparison.Ordinal);
        var seen = TypedForms.Of(page);
        Assert.Equal("Else", seen[Column("infant_given_name")]);
        Assert.Equal("Elsa", (await bed.ListAsync("select infant_given_name from births where superseded_at is null"))[0]);
        using var saved = await TypedForms.PostAsync(one, path, seen);
        Assert.Equal(HttpStatusCode.Redirect, saved.StatusCode);
        Assert.Equal(["Elsa", "Else", "Ilse"], await bed.ListAsync("select infant_given_name from births order by 1"));
    }

    [Fact]
    public async Task What_was_taken_back_meanwhile_is_said_and_nothing_is_stored()
    {
        await using var bed = await FilledAsync();
        using var one = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        var test = await LinkAsync(bed, one, "Correct left ear, 09:20");
        var form = await TypedForms.OpenAsync(one, test);
        await bed.SendAsync("kind,record_number,ear,performed_at,action\nscreening,H-1,left,2026-11-21T09:20,retract\n");
        using var news = await TypedForms.PostAsync(one, test, form, ("outcome", "refer"));
        Assert.Equal(HttpStatusCode.Conflict, news.StatusCode);
        using var late = await TypedForms.PostAsync(one, test, TypedForms.Of(await news.Content.ReadAsStringAsync(IntakeBed.Ct)));
        Assert.Equal(HttpStatusCode.UnprocessableEntity, late.StatusCode);
        Assert.Contains("was taken back since", await late.Content.ReadAsStringAsync(IntakeBed.Ct), StringComparison.Ordinal);
        Assert.Single(await bed.ListAsync(Tests));
    }

    [Fact]
    public async Task Another_sites_words_a_guessed_fact_and_one_that_holds_no_more_are_not_there()
    {
        await using var bed = await FilledAsync();
        await bed.SendAsync("kind,record_number,birth_date,sex,mother_family_name\nbirth,H-2,2026-11-20,male,Berg\n");
        await bed.SendAsync("kind,birth_date,sex,mother_given_name,mother_family_name,mother_birth_date,indicator,noted_on\n"
            + "risk,2026-11-20,female,Ada,Marlow,1995-02-03,family_history,2026-11-22\n", bed.Hill);
        using var harbour = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        using var hill = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Hill);
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        using var auditor = await SignedIn.AsAsync(bed, Role.Auditor, null);
        using var worker = await SignedIn.AsAsync(bed, Role.CaseWorker, null, "Lind");
        var id = await WorkBed.IdAsync(bed, "H-1");
        var enter = $"/infants/{id}/enter/";
        var birth = await FactAsync(bed, "births", id);
        var risk = await FactAsync(bed, "risks", id);
        var other = await FactAsync(bed, "births", await WorkBed.IdAsync(bed, "H-2"));

        // Each is offered its own words, the office everybody's, who reads only nothing.
        Assert.Equal((true, false), await OffersAsync(harbour));
        Assert.Equal((false, true), await OffersAsync(hill));
        Assert.Equal((true, true), await OffersAsync(coordinator));
        Assert.Equal((false, false), await OffersAsync(worker));
        foreach (var (client, path) in new[]
        {
            (hill, $"birth?corrects={birth}"), (harbour, $"risk?corrects={risk}"), (harbour, $"birth?corrects={other}"),
            (harbour, $"risk?corrects={birth}"), (harbour, $"birth?corrects={Guid.CreateVersion7()}"), (harbour, "birth"),
            (harbour, $"family_contact?corrects={birth}"), (worker, $"birth?corrects={birth}"), (auditor, $"birth?corrects={birth}"),
        })
        {
            foreach (var answer in new[]
            {
                await client.GetAsync(enter + path, IntakeBed.Ct),
                await SignedIn.SendFormAsync(client, enter + path, ("Form.Columns[infant_given_name]", "Zed")),
            })
            {
                using (answer) Assert.True(IsRefused(answer), $"{path}: {answer.StatusCode}");
            }
        }

        foreach (var verb in (string[])["PUT", "PATCH", "DELETE"])
        {
            using var odd = new HttpRequestMessage(new(verb), $"{enter}birth?corrects={birth}");
            using var answer = await harbour.SendAsync(odd, IntakeBed.Ct);
            Assert.InRange((int)answer.StatusCode, 400, 499);
        }

        // What holds no more is not opened again.
        await bed.SendAsync("kind,record_number,birth_date,sex,infant_given_name,mother_family_name,action\n"
            + "birth,H-1,2026-11-20,female,Ilsa,Marlow,correct\n");
        using var closed = await harbour.GetAsync($"{enter}birth?corrects={birth}", IntakeBed.Ct);
        Assert.Equal(HttpStatusCode.NotFound, closed.StatusCode);
        Assert.Equal(["0"], await bed.ListAsync("select count(*) from submissions where format = 'typed'"));

        async Task<(bool, bool)> OffersAsync(HttpClient client)
        {
            var page = await client.GetStringAsync($"/infants/{id}", IntakeBed.Ct);
            return (Offers(page, birth), Offers(page, risk));
        }
    }

    [Fact]
    public async Task What_was_typed_is_undone_from_the_record_and_the_office_corrects_in_the_sites_name()
    {
        await using var bed = await FilledAsync();
        using var screener = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        var id = await WorkBed.IdAsync(bed, "H-1");
        var risk = $"/infants/{id}/enter/risk";
        using (var saved = await TypedForms.PostAsync(screener, risk, await TypedForms.OpenAsync(screener, risk),
            ("indicator", "family_history"), ("noted_on", "2026-11-22")))
            Assert.Equal(HttpStatusCode.Redirect, saved.StatusCode);
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var path = await LinkAsync(bed, coordinator, "Correct: Risk indicator");
        using (var corrected = await TypedForms.PostAsync(coordinator, path, await TypedForms.OpenAsync(coordinator, path),
            ("noted_on", "2026-11-23"), ("Form.Site", "hill")))
            Assert.Equal(HttpStatusCode.Redirect, corrected.StatusCode);
        Assert.Equal(["harbour 2026-11-23"], await bed.ListAsync("select t.code || ' ' || r.noted_on::text from risks r "
            + "join sites t on t.id = r.site_id where superseded_at is null"));

        // One that took the place of nothing is taken back from its line.
        using (var saved = await TypedForms.PostAsync(screener, risk, await TypedForms.OpenAsync(screener, risk),
            ("indicator", "craniofacial"), ("noted_on", "2026-11-24")))
            Assert.Equal(HttpStatusCode.Redirect, saved.StatusCode);
        var undo = await LinkAsync(bed, screener, "Undo: Risk indicator");
        Assert.Contains("back=", undo, StringComparison.Ordinal);
        Assert.Contains("Undo takes back", await screener.GetStringAsync(undo, IntakeBed.Ct), StringComparison.Ordinal);
    }

    private static bool Offers(string page, string fact) => page.Contains($"corrects={fact}", StringComparison.Ordinal);

    private static bool IsRefused(HttpResponseMessage answer) => answer.StatusCode is HttpStatusCode.NotFound or HttpStatusCode.Forbidden
        || (answer.Headers.Location?.OriginalString.Contains("denied", StringComparison.Ordinal) ?? false);

    private async Task<IntakeBed> FilledAsync()
    {
        var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Rows, at: bed.Now.AddDays(-1));
        return bed;
    }

    private static async Task<string> FactAsync(IntakeBed bed, string table, string infant) =>
        (await bed.ListAsync($"select id from {table} where infant_id = '{infant}' and superseded_at is null"))[0];

    /// <summary>The link of the record whose name begins so.</summary>
    private static async Task<string> LinkAsync(IntakeBed bed, HttpClient client, string name)
    {
        var page = await client.GetStringAsync($"/infants/{await WorkBed.IdAsync(bed, "H-1")}", IntakeBed.Ct);
        var link = Links().Matches(page).FirstOrDefault(l => l.Groups[2].Value.StartsWith(name, StringComparison.Ordinal));
        Assert.True(link is not null, $"{name} is none of: {string.Join("; ", Links().Matches(page).Select(l => l.Groups[2].Value))}");
        return WebUtility.HtmlDecode(link.Groups[1].Value);
    }

    private static string Column(string code) => $"Form.Columns[{code}]";

    [GeneratedRegex("""<a href="([^"]+)" aria-label="([^"]+)">""")]
    private static partial Regex Links();

    [GeneratedRegex("""href="(/entered/[^"]+)">Look at it""")]
    private static partial Regex EnteredLink();
}
