using System.Net;
using System.Text.RegularExpressions;
using Registry.Infants.Record;
using Registry.Records;

namespace Registry.Tests.Intake.Typing;

/// <summary>What a person types goes the way of every row: tried, saved once, seen by the same eyes, undone by a retraction.</summary>
public sealed partial class TypingTests(TestDatabase database)
{
    private const string Rows =
        """
        kind,record_number,birth_date,sex,infant_given_name,mother_given_name,mother_family_name,mother_birth_date
        birth,H-1,2026-11-20,female,Ilse,Ada,Marlow,1995-02-03

        """;

    private static readonly (string Name, string Value)[] BothEars =
    [
        ("outcome_right", "pass"), ("outcome_left", "refer"), ("method", "aabr"), ("instrument", "UNIT-1"), ("day", "2026-11-21"),
        ("time", "09:15"),
    ];

    [Fact]
    public async Task Both_ears_are_recorded_by_one_form_and_undone()
    {
        await using var bed = await FilledAsync();
        using var client = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        var id = await InfantAsync(bed);
        using var saved = await SaveAsync(client, $"/infants/{id}/screen", BothEars);
        Assert.Equal(HttpStatusCode.Redirect, saved.StatusCode);
        Assert.Equal(["left refer aabr UNIT-1 Screener", "right pass aabr UNIT-1 Screener"], await ScreensAsync(bed));
        Assert.Equal(["referred_one_ear"], await bed.ListAsync("select screening from infant_status"));
        Assert.Equal(["typed"], await bed.ListAsync("select format from submissions where idempotency_key is not null"));
        var entered = saved.Headers.Location!.OriginalString;
        var page = await client.GetStringAsync(entered, IntakeBed.Ct);
        Assert.Contains("Recorded.", page, StringComparison.Ordinal);
        Assert.Contains($"href=\"/infants/{id}\"", page, StringComparison.Ordinal);

        // The method and instrument come again by themselves.
        var again = await client.GetStringAsync($"/infants/{id}/screen", IntakeBed.Ct);
        Assert.Contains("value=\"UNIT-1\"", again, StringComparison.Ordinal);
        Assert.Matches("<option (selected=\"selected\" value=\"aabr\"|value=\"aabr\" selected)", again);

        using var undone = await PostAsync(client, entered, "?handler=Undo", []);
        var taken = await client.GetStringAsync(undone.Headers.Location!.OriginalString, IntakeBed.Ct);
        Assert.Contains("Taken back.", taken, StringComparison.Ordinal);
        Assert.Empty(await ScreensAsync(bed));
        Assert.Equal(["2"], await bed.ListAsync("select count(*) from corrections where action = 'retract'"));
        // An undo is not undone by a second press, nor taken back itself.
        using var twice = await PostAsync(client, entered, "?handler=Undo", []);
        Assert.Equal(undone.Headers.Location.OriginalString, twice.Headers.Location!.OriginalString);
        using var itself = await PostAsync(client, undone.Headers.Location.OriginalString, "?handler=Undo", []);
        Assert.Equal(HttpStatusCode.NotFound, itself.StatusCode);
    }

    [Fact]
    public async Task Pressing_twice_is_one_entry()
    {
        await using var bed = await FilledAsync();
        using var client = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        var form = await OpenAsync(client, $"/infants/{await InfantAsync(bed)}/screen", BothEars);
        var answers = await Task.WhenAll(form.PostAsync(), form.PostAsync());
        Assert.Equal(["1"], await bed.ListAsync("select count(*) from submissions where format = 'typed'"));
        Assert.Equal(2, (await ScreensAsync(bed)).Count);
        Assert.Contains(answers, a => a.StatusCode == HttpStatusCode.Redirect);
    }

    [Fact]
    public async Task What_is_wrong_is_said_beside_it_and_nothing_is_stored()
    {
        await using var bed = await FilledAsync();
        using var client = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        var id = await InfantAsync(bed);
        foreach (var (path, fields, says) in new (string, (string, string)[], string)[]
        {
            ("screen", [("outcome_right", "no_valid_result"), ("method", "aabr"), ("day", "2026-11-21"), ("time", "09:15")], "Reason"),
            ("screen", [("outcome_right", "pass"), ("method", "aabr"), ("day", "2026-11-19"), ("time", "09:15")],
                "Performed at: is before “Birth date”"),
            ("screen", [("outcome_right", "pass"), ("method", "aabr"), ("day", "2027-01-01"), ("time", "09:15")], "Performed at"),
            ("screen", [("method", "aabr"), ("day", "2026-11-21"), ("time", "09:15")], "choose an outcome"),
            ("enter/risk", [("indicator", "\u0001; drop table risks")], "Risk indicator"),
            ("enter/transfer", [("to_site", "nowhere"), ("transferred_on", "2026-11-22")], "To which site"),
        })
        {
            using var answer = await SaveAsync(client, $"/infants/{id}/{path}", fields);
            Assert.Equal(HttpStatusCode.UnprocessableEntity, answer.StatusCode);
            Assert.Contains(says, WebUtility.HtmlDecode(await answer.Content.ReadAsStringAsync(IntakeBed.Ct)), StringComparison.Ordinal);
        }

        Assert.Equal(["0"], await bed.ListAsync("select count(*) from submissions where format = 'typed'"));
    }

    [Fact]
    public async Task What_was_recorded_meanwhile_is_shown_and_neither_is_lost()
    {
        await using var bed = await FilledAsync();
        using var client = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        var id = await InfantAsync(bed);
        var form = await OpenAsync(client, $"/infants/{id}/screen", BothEars);
        await bed.SendAsync("kind,record_number,ear,outcome,method,performed_at\nscreening,H-1,right,refer,teoae,2026-11-20T08:00\n");
        using var conflict = await form.PostAsync();
        Assert.Equal(HttpStatusCode.Conflict, conflict.StatusCode);
        var page = WebUtility.HtmlDecode(await conflict.Content.ReadAsStringAsync(IntakeBed.Ct));
        Assert.Contains("Something was recorded since you opened this form", page, StringComparison.Ordinal);
        Assert.Contains("TEOAE", page, StringComparison.Ordinal);
        Assert.Contains("value=\"UNIT-1\"", page, StringComparison.Ordinal);
        Assert.Single(await ScreensAsync(bed));

        using var saved = await (form with { Hidden = Hidden(page) }).PostAsync();
        Assert.Equal(HttpStatusCode.Redirect, saved.StatusCode);
        Assert.Equal(3, (await ScreensAsync(bed)).Count);
    }

    [Fact]
    public async Task An_evaluation_is_typed_in_a_grid_and_what_does_not_fit_or_is_missing_is_asked_once()
    {
        await using var bed = await FilledAsync();
        using var client = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        var form = $"/infants/{await InfantAsync(bed)}/enter/diagnosis";
        (string, string)[] fields =
        [
            ("evaluated_on", "2026-11-24"), ("right_finding", "sensorineural"), ("left_finding", "normal"), ("right_degree", "mild"),
            ("right_air_500", "45"), ("right_air_1000", " 45M"), ("right_air_2000", "50"), ("right_air_4000", ">110"),
            ("left_abr_click", "20"), ("abr_scale", "nhl"), ("evaluator", "E. Vale"), ("air_transducer", "insert_earphones"),
        ];
        using (var wrong = await SaveAsync(client, form, [.. fields, ("right_bone_500", "loud"), ("left_bone_8000", "10")]))
        {
            var said = WebUtility.HtmlDecode(await wrong.Content.ReadAsStringAsync(IntakeBed.Ct));
            Assert.Equal(HttpStatusCode.UnprocessableEntity, wrong.StatusCode);
            Assert.Contains("Right ear, bone: 500 Hz: the level is not a whole number of dB", said, StringComparison.Ordinal);
            Assert.Contains("value=\"loud\"", said, StringComparison.Ordinal);
        }

        using (var suggested = await (await OpenAsync(client, form, fields) with { Path = form + "?handler=Suggest" }).PostAsync())
        {
            var said = await suggested.Content.ReadAsStringAsync(IntakeBed.Ct);
            Assert.Contains("moderate (41 to 55; Clark 1981)", said, StringComparison.Ordinal);
        }

        using (var asked = await SaveAsync(client, form, fields))
        {
            var said = WebUtility.HtmlDecode(await asked.Content.ReadAsStringAsync(IntakeBed.Ct));
            Assert.Contains("Right ear: degree: look again: the degree is not the band", said, StringComparison.Ordinal);
            Assert.Contains("Behavioral method: look again: how the child showed", said, StringComparison.Ordinal);
        }

        Assert.Equal(["0"], await bed.ListAsync("select count(*) from diagnoses"));
        using var saved = await SaveAsync(client, form, fields, ("Form.Confirmed", "true"));
        Assert.Equal(HttpStatusCode.Redirect, saved.StatusCode);
        const string Holds = "select concat_ws(' ', right_degree, evaluator, right_air, left_abr, abr_scale) from diagnoses d "
            + "join evaluation_details t on t.diagnosis_id = d.id where superseded_at is null";
        Assert.Equal(["mild E. Vale 500:45;1000:45m;2000:50;4000:>110 click:20 nhl"], await bed.ListAsync(Holds));
        using var undone = await PostAsync(client, saved.Headers.Location!.OriginalString, "?handler=Undo", []);
        Assert.Empty(await bed.ListAsync(Holds));
        // The words of another site's form reach no infant it does not see.
        using var hill = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Hill);
        Assert.Equal(HttpStatusCode.NotFound, (await hill.GetAsync(form, IntakeBed.Ct)).StatusCode);
        foreach (var handler in (string[])["", "?handler=Suggest"])
            Assert.Equal(HttpStatusCode.NotFound, (await SignedIn.SendFormAsync(hill, form + handler, fields)).StatusCode);
    }

    [Fact]
    public async Task Every_other_kind_is_entered_by_its_columns()
    {
        await using var bed = await FilledAsync();
        using var client = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        var id = await InfantAsync(bed);
        var fields = new Dictionary<string, (string, string)[]>
        {
            ["diagnosis"] =
                [("evaluated_on", "2026-11-24"), ("right_finding", "normal"), ("left_finding", "sensorineural"), ("left_degree", "mild")],
            ["intervention"] = [("event", "referred"), ("happened_on", "2026-11-25")],
            ["contact"] = [("step", "diagnosis"), ("attempted_on", "2026-11-23"), ("contact_outcome", "reached")],
            ["refusal"] = [("step", "intervention"), ("refused_on", "2026-11-25"), ("refused_by", "the mother")],
            ["appointment"] =
                [("step", "diagnosis"), ("appointment", "made"), ("happened_on", "2026-11-24"), ("appointment_on", "2026-12-03"),
                    ("appointment_time", "10:30"), ("appointment_site", "hill")],
            ["risk"] = [("indicator", "family_history"), ("noted_on", "2026-11-21")],
            ["readmission"] = [("admitted_on", "2026-11-22"), ("raises_risk", "true")],
            ["medical_delay"] = [("step", "diagnosis"), ("from_on", "2026-11-22")],
            ["transfer"] = [("to_site", "hill"), ("transferred_on", "2026-11-22")],
            ["family_contact"] = [("relation", "father"), ("person_name", "Tom Marlow"), ("contact_phone", "555 010 0102")],
            ["care"] = [("primary_care", "Dr. Berg"), ("primary_care_confirmed", "true")],
            ["move"] = [("move", "out_of_region"), ("moved_on", "2026-11-24")],
            ["death"] = [("died_on", "2026-11-25")],
        };
        Assert.Equal(EnterWords.Kinds.Select(k => k.Code).Order(StringComparer.Ordinal), fields.Keys.Order(StringComparer.Ordinal));
        foreach (var (kind, columns) in fields)
        {
            using var saved = await SaveAsync(client, $"/infants/{id}/enter/{kind}", columns);
            Assert.True(saved.StatusCode == HttpStatusCode.Redirect,
                $"{kind}: {WebUtility.HtmlDecode(await saved.Content.ReadAsStringAsync(IntakeBed.Ct))}");
        }

        Assert.Equal([$"{fields.Count} accepted"], await bed.ListAsync(
            "select concat_ws(' ', count(*), r.outcome) from submission_rows r join submissions s on s.id = r.submission_id "
                + "where s.format = 'typed' group by r.outcome"));
        foreach (var unknown in new[] { "birth", "screening", "merge", "nothing" })
            Assert.Equal(HttpStatusCode.NotFound, (await client.GetAsync($"/infants/{id}/enter/{unknown}", IntakeBed.Ct)).StatusCode);
    }

    [Fact]
    public async Task A_birth_is_entered_and_one_that_is_known_is_seen_before_it_is_saved()
    {
        await using var bed = await FilledAsync();
        using var client = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        (string, string)[] fresh =
        [
            ("record_number", "H-2"), ("birth_date", "2026-11-24"), ("sex", "male"), ("mother_given_name", "Nora"),
            ("mother_family_name", "Berg"), ("mother_birth_date", "1990-01-01"), ("contact_phone", "555 010 0199"),
        ];
        using var saved = await SaveAsync(client, "/infants/new", fresh);
        Assert.Equal(HttpStatusCode.Redirect, saved.StatusCode);
        Assert.Equal(["2"], await bed.ListAsync("select count(*) from infants"));

        // The same child under another number: shown, with its record, and nothing stored.
        (string, string)[] known = [("record_number", "H-9"), .. fresh.Skip(1)];
        var form = await OpenAsync(client, "/infants/new", known);
        using var doubt = await form.PostAsync();
        Assert.Equal(HttpStatusCode.OK, doubt.StatusCode);
        var page = WebUtility.HtmlDecode(await doubt.Content.ReadAsStringAsync(IntakeBed.Ct));
        Assert.Contains("Look at this before it is saved", page, StringComparison.Ordinal);
        Assert.Equal(["1"], await bed.ListAsync("select count(*) from submissions where format = 'typed'"));
        using var all = await (form with { Hidden = [.. Hidden(page), ("Form.Confirmed", "true")] }).PostAsync();
        Assert.Equal(HttpStatusCode.Redirect, all.StatusCode);
        Assert.Equal(["2"], await bed.ListAsync("select count(*) from infants"));
    }

    [Fact]
    public async Task Another_sites_infant_and_entry_are_not_there()
    {
        await using var bed = await FilledAsync();
        using var own = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        using var other = await SignedIn.AsAsync(bed, Role.Screener, bed.Hill);
        var id = await InfantAsync(bed);
        using var saved = await SaveAsync(own, $"/infants/{id}/screen", BothEars);
        var entered = saved.Headers.Location!.OriginalString;
        foreach (var path in new[] { $"/infants/{id}/screen", $"/infants/{id}/enter/risk", entered })
            Assert.Equal(HttpStatusCode.NotFound, (await other.GetAsync(path, IntakeBed.Ct)).StatusCode);
        var token = await SignedIn.TokenAsync(other, "/find");
        foreach (var path in new[] { $"/infants/{id}/screen", $"/infants/{id}/enter/risk", $"{entered}?handler=Undo" })
        {
            using var form = new FormUrlEncodedContent(
                [new("__RequestVerificationToken", token), new("Form.Columns[indicator]", "family_history")]);
            Assert.Equal(HttpStatusCode.NotFound, (await other.PostAsync(path, form, IntakeBed.Ct)).StatusCode);
        }

        // Nor does a site that is stated help: it is the person's own.
        using var foreign = await SaveAsync(own, $"/infants/{id}/enter/risk", [("indicator", "family_history"), ("record_number", "X")],
            ("Form.Site", "hill"));
        Assert.Equal(["harbour"], await bed.ListAsync(
            "select distinct t.code from submissions s join sites t on t.id = s.site_id where s.format = 'typed'"));
        Assert.Equal(2, (await ScreensAsync(bed)).Count);
    }

    private async Task<IntakeBed> FilledAsync()
    {
        var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Rows, at: bed.Now.AddDays(-1));
        return bed;
    }

    private static async Task<string> InfantAsync(IntakeBed bed) => (await bed.ListAsync("select id from infants"))[0];

    private static Task<List<string>> ScreensAsync(IntakeBed bed) => bed.ListAsync(
        "select concat_ws(' ', ear, outcome, method, instrument, screener) from screenings where superseded_at is null "
            + "order by ear, outcome");

    private sealed record OpenForm(HttpClient Client, string Path, IReadOnlyList<(string Name, string Value)> Hidden,
        IReadOnlyList<(string Name, string Value)> Fields)
    {
        public async Task<HttpResponseMessage> PostAsync()
        {
            using var form = new FormUrlEncodedContent(Hidden.Concat(Fields).Select(f => KeyValuePair.Create(f.Name, f.Value)));
            return await Client.PostAsync(Path, form, IntakeBed.Ct);
        }
    }

    private static async Task<OpenForm> OpenAsync(HttpClient client, string path, params (string Name, string Value)[] fields)
    {
        var page = await client.GetStringAsync(path, IntakeBed.Ct);
        return new(client, path, Hidden(page), [.. fields.Select(f => ($"Form.Columns[{f.Name}]", f.Value))]);
    }

    private static async Task<HttpResponseMessage> SaveAsync(HttpClient client, string path, (string Name, string Value)[] fields,
        params (string Name, string Value)[] more)
    {
        var form = await OpenAsync(client, path, fields);
        return await (form with { Hidden = [.. form.Hidden, .. more] }).PostAsync();
    }

    private static async Task<HttpResponseMessage> PostAsync(HttpClient client, string page, string query, (string, string)[] fields)
    {
        using var form = new FormUrlEncodedContent([.. fields.Select(f => new KeyValuePair<string, string>(f.Item1, f.Item2)),
            new("__RequestVerificationToken", await SignedIn.TokenAsync(client, page))]);
        return await client.PostAsync(page + query, form, IntakeBed.Ct);
    }

    /// <summary>What the form carries of itself; the token once.</summary>
    private static IReadOnlyList<(string, string)> Hidden(string page) =>
        [.. HiddenInput().Matches(page).Select(m => (m.Groups[1].Value, m.Groups[2].Value)).DistinctBy(h => h.Item1)];

    [GeneratedRegex("""<input[^>]*? name="(Form\.Key|Form\.Seen|__RequestVerificationToken)"[^>]*? value="([^"]*)""")]
    private static partial Regex HiddenInput();
}
