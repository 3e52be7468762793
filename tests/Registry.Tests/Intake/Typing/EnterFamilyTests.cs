using System.Net;
using System.Text.RegularExpressions;
using Registry.Records;
using Registry.Tests.FollowUp;

namespace Registry.Tests.Intake.Typing;

/// <summary>
/// A case worker writes down what a family says on the telephone, of the infants they see and of nothing else. The infants of
/// <see cref="WorkBed"/> are born at Harbour Hospital, Lind.
/// </summary>
public sealed partial class EnterFamilyTests(TestDatabase database)
{
    private static readonly (string, string)[] NewNumber = [("relation", "mother"), ("contact_phone", "555-0199"), ("phone_use", "mobile")];

    [Fact]
    public async Task A_new_number_goes_from_the_call_to_the_form_and_back_and_is_undone()
    {
        await using var bed = await WorkBed.StartAsync(database);
        var (infant, sees) = (await WorkBed.IdAsync(bed, "W-1"), await SeesAsync(bed));
        using var worker = await SignedIn.AsAsync(bed, Role.CaseWorker, null, "Lind");
        var call = await worker.GetStringAsync($"/follow-up?tray=call_today&infant={infant}", IntakeBed.Ct);
        var form = WebUtility.HtmlDecode(FormLink().Match(call).Groups[1].Value);
        Assert.EndsWith("#call", Uri.UnescapeDataString(form), StringComparison.Ordinal);
        var asked = WebUtility.HtmlDecode(await worker.GetStringAsync(form, IntakeBed.Ct));
        Assert.Contains("Recorded for Harbour Hospital, where the child was born, with your name.", asked, StringComparison.Ordinal);
        Assert.DoesNotContain("Form.Site", asked, StringComparison.Ordinal);

        using var saved = await WorkBed.TypeAsync(worker, form, NewNumber);
        var back = saved.Headers.Location!.OriginalString;
        Assert.Equal($"/follow-up?tray=call_today&infant={infant}#call", back);
        var panel = await worker.GetStringAsync(back[..back.IndexOf('#', StringComparison.Ordinal)], IntakeBed.Ct);
        Assert.Contains("Call 555-0199", panel[panel.IndexOf("id=\"call\"", StringComparison.Ordinal)..], StringComparison.Ordinal);
        Assert.Equal(["harbour mother"], await bed.ListAsync(
            "select t.code || ' ' || f.kind from family_contacts f join sites t on t.id = f.site_id where superseded_at is null"));

        // It showed the record to nobody; who typed it stands beside it.
        Assert.Equal(sees, await SeesAsync(bed));
        var record = WebUtility.HtmlDecode(await worker.GetStringAsync($"/infants/{infant}", IntakeBed.Ct));
        Assert.Contains("Harbour Hospital, entered by CaseWorker", record, StringComparison.Ordinal);

        var entered = WebUtility.HtmlDecode(EnteredLink().Match(panel).Groups[1].Value);
        using var undone = await SignedIn.SendFormAsync(worker, entered + "&handler=Undo");
        var taken = await worker.GetStringAsync(undone.Headers.Location!.OriginalString, IntakeBed.Ct);
        Assert.Contains("Taken back.", taken, StringComparison.Ordinal);
        Assert.Contains("Back to where you were", taken, StringComparison.Ordinal);
        Assert.DoesNotContain("/submissions/", taken, StringComparison.Ordinal);
        Assert.Equal(0, await bed.CountAsync("family_contacts where superseded_at is null"));
        Assert.Equal(sees, await SeesAsync(bed));
    }

    [Fact]
    public async Task What_would_change_nothing_is_shown_first_and_what_is_wrong_is_said()
    {
        await using var bed = await WorkBed.StartAsync(database);
        var form = $"/infants/{await WorkBed.IdAsync(bed, "W-1")}/enter/";
        using var worker = await SignedIn.AsAsync(bed, Role.CaseWorker, null, "Lind");
        using (var saved = await WorkBed.TypeAsync(worker, form + "family_contact", NewNumber))
            Assert.Equal(HttpStatusCode.Redirect, saved.StatusCode);
        using (var again = await WorkBed.TypeAsync(worker, form + "family_contact", NewNumber))
            Assert.Contains("The same is recorded already", await again.Content.ReadAsStringAsync(IntakeBed.Ct), StringComparison.Ordinal);
        using (var wrong = await WorkBed.TypeAsync(worker, form + "family_contact", [("relation", "mother"), ("contact_phone", "none")]))
            Assert.Equal(HttpStatusCode.UnprocessableEntity, wrong.StatusCode);
        using (var care = await WorkBed.TypeAsync(
            worker, form + "care", [("primary_care", "Dr. Berg"), ("primary_care_confirmed", "true")]))
            Assert.Equal(HttpStatusCode.Redirect, care.StatusCode);
        Assert.Equal(1, await bed.CountAsync("family_contacts"));
        Assert.Equal(1, await bed.CountAsync("care"));
    }

    [Fact]
    public async Task No_infant_of_another_county_nor_one_that_is_no_longer_assigned_nor_one_behind_glass()
    {
        await using var bed = await WorkBed.StartAsync(database);
        var infant = await WorkBed.IdAsync(bed, "W-1");
        var form = $"/infants/{infant}/enter/family_contact";
        var person = await bed.AddPersonAsync(Role.CaseWorker, null, "Mere");
        using var worker = SignedIn.Nobody(bed);
        using (await SignedIn.PostAsync(worker, person, IntakeBed.Password)) { }
        await NothingAsync("another county");

        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        await AssignAsync(person.Id.ToString());
        using var saved = await WorkBed.TypeAsync(worker, form, NewNumber);
        var entered = saved.Headers.Location!.OriginalString;
        Assert.Equal(1, await bed.CountAsync("family_contacts"));
        await AssignAsync("");
        await NothingAsync("assigned no longer");
        Assert.Equal(HttpStatusCode.NotFound, (await worker.GetAsync(entered, IntakeBed.Ct)).StatusCode);
        using (var undo = await SignedIn.SendFormAsync(worker, entered + "?handler=Undo"))
            Assert.Equal(HttpStatusCode.NotFound, undo.StatusCode);

        await bed.ListAsync(
            """
            insert into opened_glasses (id, infant_id, person_id, role, reason, words, opened_at, ends_at)
            values (gen_random_uuid(), $1, $2, 'case_worker', 'other', '', now(), now() + interval '1 day') returning 1
            """, Guid.Parse(infant), person.Id);
        Assert.Equal(HttpStatusCode.OK, (await worker.GetAsync($"/infants/{infant}", IntakeBed.Ct)).StatusCode);
        await NothingAsync("behind glass");
        using (var undo = await SignedIn.SendFormAsync(worker, entered + "?handler=Undo"))
            Assert.Equal(HttpStatusCode.NotFound, undo.StatusCode);
        Assert.Equal(1, await bed.CountAsync("family_contacts where superseded_at is null"));

        async Task AssignAsync(string to)
        {
            using var answer = await SignedIn.SendFormAsync(coordinator, $"/infants/{infant}?handler=Assign", ("worker", to));
            Assert.Equal(HttpStatusCode.Redirect, answer.StatusCode);
        }

        async Task NothingAsync(string why)
        {
            foreach (var kind in new[] { "family_contact", "care" })
            {
                var path = $"/infants/{infant}/enter/{kind}";
                Assert.True((await worker.GetAsync(path, IntakeBed.Ct)).StatusCode == HttpStatusCode.NotFound, why);
                using var sent = await SignedIn.SendFormAsync(worker, path,
                    ("Form.Columns[relation]", "mother"), ("Form.Columns[contact_phone]", "555-0666"), ("Form.Confirmed", "true"));
                Assert.True(sent.StatusCode == HttpStatusCode.NotFound, why);
            }
        }
    }

    [Fact]
    public async Task No_other_kind_by_another_address_or_field_and_no_other_site_or_infant()
    {
        await using var bed = await WorkBed.StartAsync(database);
        var (infant, other) = (await WorkBed.IdAsync(bed, "W-1"), await WorkBed.IdAsync(bed, "W-2"));
        using var worker = await SignedIn.AsAsync(bed, Role.CaseWorker, null, "Lind");
        foreach (var path in new[]
        {
            "/infants/new", $"/infants/{infant}/screen", $"/infants/{infant}/enter/diagnosis", $"/infants/{infant}/enter/death",
            $"/infants/{infant}/enter/refusal", $"/infants/{infant}/enter/transfer", $"/infants/{infant}/enter/FAMILY", "/submissions/new",
            $"/infants/{infant}/enter/family_contact,death", $"/infants/{infant}/enter/screening",
        })
        {
            using var seen = await worker.GetAsync(path, IntakeBed.Ct);
            Assert.Equal("/denied", seen.Headers.Location?.AbsolutePath);
            using var sent = await SignedIn.SendFormAsync(worker, path, ("Form.Columns[died_on]", "2026-11-20"));
            Assert.Equal("/denied", sent.Headers.Location?.AbsolutePath);
        }

        var before = await FactsAsync(bed);
        using (var sent = await WorkBed.TypeAsync(worker, $"/infants/{infant}/enter/family_contact",
            [
                .. NewNumber, ("kind", "death"), ("action", "retract"), ("died_on", "2026-11-20"), ("record_number", "W-2"),
                ("birth_date", "2026-10-01"), ("outcome", "pass"),
            ], ("Form.Site", "hill"), ("kind", "death"), ("Kind", "Death"), ("Id", other), ("id", other), ("Form.Confirmed", "true")))
            Assert.Equal(HttpStatusCode.Redirect, sent.StatusCode);
        Assert.Equal(before, await FactsAsync(bed));
        Assert.Equal([$"{infant} harbour"], await bed.ListAsync(
            "select f.infant_id || ' ' || t.code from family_contacts f join sites t on t.id = f.site_id"));
    }

    /// <summary>The number by which the birth site knows the infant leads to another meanwhile: nobody is written to by mistake.</summary>
    [Fact]
    public async Task What_would_fall_to_another_infant_is_refused()
    {
        await using var bed = await WorkBed.StartAsync(database);
        var (infant, other) = (await WorkBed.IdAsync(bed, "W-1"), await WorkBed.IdAsync(bed, "W-2"));
        await bed.ListAsync("update infant_identifiers set superseded_at = now() where infant_id = $1 and value = 'W-1' returning 1",
            Guid.Parse(infant));
        using var worker = await SignedIn.AsAsync(bed, Role.CaseWorker, null, "Lind");
        using var sent = await WorkBed.TypeAsync(worker, $"/infants/{infant}/enter/family_contact", NewNumber, ("Form.Confirmed", "true"));
        var fell = await bed.ListAsync("select infant_id from family_contacts");
        Assert.DoesNotContain(other, fell);
        Assert.All(fell, f => Assert.Equal(infant, f));
    }

    [Fact]
    public async Task Nobody_undoes_what_another_said()
    {
        await using var bed = await WorkBed.StartAsync(database);
        var infant = await WorkBed.IdAsync(bed, "W-1");
        var form = $"/infants/{infant}/enter/family_contact";
        using var worker = await SignedIn.AsAsync(bed, Role.CaseWorker, null, "Lind");
        using var colleague = await SignedIn.AsAsync(bed, Role.CaseWorker, null, "Lind");
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        using var screener = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        using var byColleague = await WorkBed.TypeAsync(colleague, form, NewNumber);
        using var byOffice = await WorkBed.TypeAsync(coordinator, form, [("relation", "father"), ("contact_phone", "555-0201")],
            ("Form.Site", "harbour"));
        using var bySite = await WorkBed.TypeAsync(screener, $"/infants/{infant}/enter/risk", [("indicator", "family_history"),
            ("noted_on", "2026-11-20")]);
        foreach (var entered in new[] { byColleague, byOffice, bySite }.Select(a => a.Headers.Location!.OriginalString))
        {
            Assert.Equal(HttpStatusCode.NotFound, (await worker.GetAsync(entered, IntakeBed.Ct)).StatusCode);
            using var undo = await SignedIn.SendFormAsync(worker, entered + "?handler=Undo");
            Assert.Equal(HttpStatusCode.NotFound, undo.StatusCode);
        }

        // Saying the same again records nothing, so its undo takes nothing of the colleague's back.
        using var same = await WorkBed.TypeAsync(worker, form, NewNumber, ("Form.Confirmed", "true"));
        using (var undo = await SignedIn.SendFormAsync(worker, same.Headers.Location!.OriginalString + "?handler=Undo"))
            Assert.Equal(HttpStatusCode.NotFound, undo.StatusCode);
        Assert.Equal(2, await bed.CountAsync("family_contacts where superseded_at is null"));
    }

    /// <summary>A former number comes back: its words are the site's too, and an undo, which goes by the words, would take both.</summary>
    [Fact]
    public async Task An_undo_takes_back_no_earlier_statement_of_the_same_words()
    {
        await using var bed = await WorkBed.StartAsync(database);
        const string Header = "kind,record_number,relation,contact_phone,phone_use\n";
        await bed.SendAsync(Header + "family_contact,W-1,mother,555-0199,mobile\n", at: bed.Now.AddDays(-2));
        await bed.SendAsync(Header + "family_contact,W-1,mother,555-0300,mobile\n", at: bed.Now.AddDays(-1));
        using var worker = await SignedIn.AsAsync(bed, Role.CaseWorker, null, "Lind");
        using var saved = await WorkBed.TypeAsync(worker, $"/infants/{await WorkBed.IdAsync(bed, "W-1")}/enter/family_contact", NewNumber);
        var entered = saved.Headers.Location!.OriginalString;
        Assert.Equal(3, await bed.CountAsync("family_contacts where superseded_at is null"));
        using (var undo = await SignedIn.SendFormAsync(worker, entered + "?handler=Undo"))
            Assert.Equal(entered, undo.Headers.Location!.OriginalString);
        Assert.Contains("an undo would take back both", await worker.GetStringAsync(entered, IntakeBed.Ct), StringComparison.Ordinal);
        Assert.Equal(3, await bed.CountAsync("family_contacts where superseded_at is null"));
    }

    [Fact]
    public async Task Who_has_another_role_now_takes_nothing_back_of_the_former_one()
    {
        await using var bed = await WorkBed.StartAsync(database);
        var infant = await WorkBed.IdAsync(bed, "W-1");
        var person = await bed.AddPersonAsync(Role.Screener, bed.Harbour);
        using var client = SignedIn.Nobody(bed);
        using (await SignedIn.PostAsync(client, person, IntakeBed.Password)) { }
        using var typed = await WorkBed.TypeAsync(client, $"/infants/{infant}/enter/risk",
            [("indicator", "family_history"), ("noted_on", "2026-11-20")]);
        var entered = typed.Headers.Location!.OriginalString;
        await bed.ListAsync("update people set role = 'case_worker', site_id = null, counties = '{Lind}' where id = $1 returning 1", person.Id);
        Assert.Equal(HttpStatusCode.OK, (await client.GetAsync($"/infants/{infant}", IntakeBed.Ct)).StatusCode);
        Assert.Equal(HttpStatusCode.NotFound, (await client.GetAsync(entered, IntakeBed.Ct)).StatusCode);
        using (var undo = await SignedIn.SendFormAsync(client, entered + "?handler=Undo"))
            Assert.Equal(HttpStatusCode.NotFound, undo.StatusCode);
        Assert.Equal(1, await bed.CountAsync("risks where superseded_at is null"));
    }

    [Fact]
    public async Task Nothing_without_the_token_by_an_odd_verb_or_for_who_only_reads()
    {
        await using var bed = await WorkBed.StartAsync(database);
        var form = $"/infants/{await WorkBed.IdAsync(bed, "W-1")}/enter/family_contact";
        using var worker = await SignedIn.AsAsync(bed, Role.CaseWorker, null, "Lind");
        using var saved = await WorkBed.TypeAsync(worker, form, NewNumber);
        var entered = saved.Headers.Location!.OriginalString;
        KeyValuePair<string, string>[] fields = [new("Form.Columns[relation]", "father"), new("Form.Columns[contact_phone]", "555-0666")];
        foreach (var path in new[] { form, entered + "?handler=Undo" })
        {
            using var bare = new FormUrlEncodedContent(fields);
            using var answer = await worker.PostAsync(path, bare, IntakeBed.Ct);
            Assert.Equal(HttpStatusCode.BadRequest, answer.StatusCode);
            foreach (var verb in new[] { "PUT", "PATCH", "DELETE", "HEAD", "GET", "OPTIONS" })
            {
                using var request = new HttpRequestMessage(new(verb), path);
                if (verb is not ("GET" or "HEAD")) request.Content = new FormUrlEncodedContent(fields);
                using var odd = await worker.SendAsync(request, IntakeBed.Ct);
                Assert.True((int)odd.StatusCode < 500, verb);
            }
        }

        foreach (var role in new[] { Role.Epidemiologist, Role.Auditor, Role.Administrator })
        {
            using var reader = await SignedIn.AsAsync(bed, role, null);
            foreach (var path in new[] { form, entered, entered + "?handler=Undo" })
            {
                using var seen = await reader.GetAsync(path, IntakeBed.Ct);
                Assert.Equal("/denied", seen.Headers.Location?.AbsolutePath);
                using var sent = await SignedIn.SendFormAsync(reader, path, [.. fields.Select(f => (f.Key, f.Value))]);
                Assert.Equal("/denied", sent.Headers.Location?.AbsolutePath);
            }
        }

        Assert.Equal(1, await bed.CountAsync("family_contacts where superseded_at is null"));
    }

    [Theory]
    [InlineData("https://elsewhere.example/"), InlineData("//elsewhere.example/follow-up"), InlineData("/\\elsewhere.example")]
    [InlineData("/sign-out"), InlineData("/follow-ups"), InlineData("/infants/00000000-0000-0000-0000-000000000001")]
    [InlineData("javascript:alert(1)"), InlineData("")]
    public async Task The_way_back_leads_nowhere_else(string back)
    {
        await using var bed = await WorkBed.StartAsync(database);
        using var worker = await SignedIn.AsAsync(bed, Role.CaseWorker, null, "Lind");
        var form = $"/infants/{await WorkBed.IdAsync(bed, "W-1")}/enter/family_contact?back={Uri.EscapeDataString(back)}";
        Assert.DoesNotContain("Back without saving", await worker.GetStringAsync(form, IntakeBed.Ct), StringComparison.Ordinal);
        using var saved = await WorkBed.TypeAsync(worker, form, NewNumber);
        Assert.Matches("^/entered/[^?]+$", saved.Headers.Location!.OriginalString);
    }

    /// <summary>Which sites see which infants.</summary>
    private static Task<List<string>> SeesAsync(IntakeBed bed) =>
        bed.ListAsync("select site_id || ' ' || infant_id from infant_sites order by 1");

    /// <summary>How much of each kind there is, but for what is said of families.</summary>
    private static Task<List<string>> FactsAsync(IntakeBed bed) => bed.ListAsync(
        "select concat_ws(' ', (select count(*) from births), (select count(*) from screenings), (select count(*) from deaths), "
            + "(select count(*) from refusals), (select count(*) from infants), (select count(*) from corrections))");

    [GeneratedRegex("""href="(/infants/[^"]+/enter/family_contact\?back=[^"]+)""")]
    private static partial Regex FormLink();

    [GeneratedRegex("""href="(/entered/[^"]+)""")]
    private static partial Regex EnteredLink();
}
