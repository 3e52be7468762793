using System.Net;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Playwright;
using Registry.Intake.Applying;
using Registry.Intake.HeldRows;
using Registry.Intake.HeldRows.Bulk;
using Registry.Records;
using Registry.Tests.Access;
using Registry.Tests.Architecture;
using Registry.Tests.Browser;

namespace Registry.Tests.Intake.HeldRows;

/// <summary>Who may correct, discard and decide what, over HTTP; and a bulk correction with its undo in a browser.</summary>
public sealed class WaitingRowsPagesTests(TestDatabase database, Chromium chromium)
{
    private const string Header = "kind,record_number,birth_date,sex,mother_family_name,ear,outcome,method,performed_at\n";

    private static string Births(int n) =>
        string.Concat(Enumerable.Range(1, n).Select(i => $"birth,A{i},2026-11-01,female,Marlow{i},,,,\n"));

    private static string Screens(int n, string method) => string.Concat(
        Enumerable.Range(1, n).Select(i => $"screening,A{i},,,,right,pass,{method},2026-11-02T09:15\n"));

    [Fact]
    public async Task A_screener_corrects_a_manager_discards_and_only_a_coordinator_says_whom_a_row_is_about()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var id = await bed.SendAsync(
            Header + Births(1) + "screening,A1,,,,right,maybe,oae,2026-11-02T09:15\nscreening,A9,,,,left,pass,oae,2026-11-02T09:15\n");
        var infant = (await bed.ListAsync("select id from infants"))[0];
        var (rejected, held) = ($"/submissions/{id}/rows/2", $"/submissions/{id}/rows/3");
        var screener = await WhoSeesWhatTests.SignedInAsync(bed, Role.Screener, bed.Harbour);
        var manager = await WhoSeesWhatTests.SignedInAsync(bed, Role.SiteManager, bed.Harbour);
        var other = await WhoSeesWhatTests.SignedInAsync(bed, Role.SiteManager, bed.Hill);

        Assert.True(IsDenied(await PostAsync(screener, rejected, "Discard")));
        foreach (var client in new[] { screener, manager })
            foreach (var handler in new[] { "Match", "New" })
                Assert.True(IsDenied(await PostAsync(client, held, handler, null, ("infant", infant))));
        Assert.Equal(HttpStatusCode.NotFound, (await other.GetAsync(rejected, IntakeBed.Ct)).StatusCode);
        Assert.Equal(HttpStatusCode.NotFound, (await PostAsync(other, rejected, "Discard", "/submissions/new")).StatusCode);
        Assert.Equal(HttpStatusCode.NotFound,
            (await PostAsync(other, rejected, "Correct", "/submissions/new", ("Values[outcome]", "pass"))).StatusCode);

        var wrong = await PostAsync(screener, rejected, "Correct", null, ("Values[outcome]", "pass"), ("Values[ear]", "middle"),
            ("Seen", "0"));
        Assert.Equal(HttpStatusCode.UnprocessableEntity, wrong.StatusCode);
        var page = WebUtility.HtmlDecode(await wrong.Content.ReadAsStringAsync(IntakeBed.Ct));
        Assert.Contains("value=\"middle\"", page, StringComparison.Ordinal);
        Assert.Contains("unknown code; it is one of: right, left", page, StringComparison.Ordinal);
        Assert.Contains("The corrected row was applied.", await SaidAsync(
            screener, await PostAsync(screener, rejected, "Correct", null, ("Values[outcome]", "pass"),
            ("Seen", "0"))), StringComparison.Ordinal);
        Assert.Equal(["accepted", "accepted", "held no_such_infant"], await bed.OutcomesAsync(id));
        Assert.Contains("<del>maybe</del>", WebUtility.HtmlDecode(await manager.GetStringAsync(rejected, IntakeBed.Ct)),
            StringComparison.Ordinal);

        Assert.Contains("The row was discarded.", await SaidAsync(manager, await PostAsync(manager, held, "Discard", null, ("Seen", "0"))),
            StringComparison.Ordinal);
        Assert.True(IsDenied(await PostAsync(screener, held, "Undo"))); // who may not discard may not take a discarding back
        Assert.Contains("waits no more: discarded by SiteManager", WebUtility.HtmlDecode(
            await SaidAsync(screener, await PostAsync(screener, held, "Retry"))), StringComparison.Ordinal);
        Assert.Contains("The decision was taken back.", await SaidAsync(manager, await PostAsync(manager, held, "Undo")),
            StringComparison.Ordinal);
        Assert.Equal(["accepted", "accepted", "held no_such_infant"], await bed.OutcomesAsync(id));
        Assert.True(await bed.CountAsync("access_records where action like '%/rows/%'") > 5);
    }

    [Fact]
    public async Task The_list_counts_by_age_and_reason_and_the_export_holds_no_value_of_a_row()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Header + Screens(3, "te-oae"), at: bed.Now.AddDays(-40));
        await bed.SendAsync(Header + Screens(2, "teoae"), at: bed.Now.AddDays(-3));
        await bed.SendAsync(Header + "screening,SECRET-9,,,,right,pass,te-oae,2026-11-02T09:15\n");
        await bed.SendAsync(Header + Screens(1, "teoae"), bed.Hill);
        var coordinator = await WhoSeesWhatTests.SignedInAsync(bed, Role.Coordinator, null);
        var list = bed.App.Services.GetRequiredService<ListWaitingRows>();
        Assert.Equal(
            ["Harbour Hospital 1 2 0 3", "Hill Audiology 1 0 0 0"],
            (await list.OverviewAsync(new(null), IntakeBed.Ct)).Sites.Select(
                s => $"{s.Name} {string.Join(' ', s.Rows.OrderBy(r => r.Key).Select(r => r.Value))}"));
        foreach (var (query, rows) in new[]
        {
            ("", 7), ("?outcome=held", 3), ("?outcome=rejected&age=older", 3), ("?age=today", 2), ("?site=hill", 1), ("?kind=birth", 0),
            ("?held=no_such_infant&site=harbour", 2),
            ("?site=elsewhere", 0), ("?outcome=accepted", 0), ("?outcome=nonsense", 0), ("?held=nonsense", 0), ("?age=nonsense", 0),
            ("?submission=nonsense", 0), ("?kind=nonsense", 0),
            ("?outcome=rejected&field=method&reason=" + Uri.EscapeDataString(
            "unknown code; it is one of: unknown, oae, teoae, dpoae, aabr, abr"), 4),
        })
        {
            var csv = await coordinator.GetStringAsync("/submissions/held" + (query.Length == 0 ? "?" : query + "&") + "handler=Csv",
                IntakeBed.Ct);
            Assert.True(rows == csv.Trim().Split('\n').Length - 1, $"{query}: {csv}");
            Assert.DoesNotContain("SECRET-9", csv, StringComparison.Ordinal);
        }

        Assert.Contains("The filter names something that does not exist.",
            await coordinator.GetStringAsync("/submissions/held?site=elsewhere", IntakeBed.Ct), StringComparison.Ordinal);
        Assert.Contains("None of these rows waits any more.", await SaidAsync(
            coordinator, await PostAsync(coordinator, "/submissions/held?site=elsewhere&handler=Choose", null, "/submissions/new",
            ("all", "true"))), StringComparison.Ordinal);
        Assert.Equal(0, await bed.CountAsync("bulk_decisions"));
        var page = await coordinator.GetStringAsync("/submissions/held", IntakeBed.Ct);
        Assert.DoesNotContain("SECRET-9", page, StringComparison.Ordinal);
        var manager = await WhoSeesWhatTests.SignedInAsync(bed, Role.SiteManager, bed.Hill);
        Assert.DoesNotContain("Harbour", await manager.GetStringAsync("/submissions/held?site=harbour", IntakeBed.Ct),
            StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_bulk_decision_is_its_sites_and_each_role_decides_what_it_may()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var id = await bed.SendAsync(Header + Screens(2, "teoae"));
        var screener = await WhoSeesWhatTests.SignedInAsync(bed, Role.Screener, bed.Harbour);
        var manager = await WhoSeesWhatTests.SignedInAsync(bed, Role.SiteManager, bed.Harbour);
        var other = await WhoSeesWhatTests.SignedInAsync(bed, Role.SiteManager, bed.Hill);
        Assert.Contains("Tick the rows first", await SaidAsync(screener, await PostAsync(screener, "/submissions/held", "Choose")),
            StringComparison.Ordinal);
        var chosen = await PostAsync(screener, "/submissions/held", "Choose", null, ("ticked", $"{id}/1"), ("ticked", $"{id}/2"));
        var bulk = chosen.Headers.Location!.OriginalString;
        Assert.StartsWith("/submissions/held/bulk/", bulk, StringComparison.Ordinal);
        Assert.Equal(HttpStatusCode.NotFound, (await other.GetAsync(bulk, IntakeBed.Ct)).StatusCode);
        Assert.Equal(HttpStatusCode.NotFound, (await PostAsync(other, bulk, "Discard", "/submissions/new")).StatusCode);
        Assert.True(IsDenied(await PostAsync(screener, bulk, "Discard")));
        Assert.True(IsDenied(await PostAsync(manager, bulk, "Match", null, ("infant", Guid.NewGuid().ToString()))));
        await PostAsync(manager, bulk, "Discard");
        Assert.Equal(2, await bed.CountAsync("submission_rows where discarded_at is not null"));
        Assert.Contains("decided already", await SaidAsync(manager, await PostAsync(manager, bulk, "Discard")), StringComparison.Ordinal);
        Assert.True(IsDenied(await PostAsync(screener, bulk, "Undo")));
        await PostAsync(manager, bulk, "Undo");
        Assert.Equal(["held no_such_infant", "held no_such_infant"], await bed.OutcomesAsync(id));
        Assert.True(await bed.CountAsync("access_records where action like '%/bulk/%' and infant_count = 2") > 0);
    }

    [Fact]
    public async Task One_wrong_code_is_corrected_in_many_rows_and_taken_back()
    {
        await using var bed = await IntakeBed.StartAsync(database, listen: true);
        var person = await bed.AddPersonAsync(Role.Screener, bed.Harbour);
        foreach (var phone in new[] { false, true })
        {
            if (!phone) await bed.SendAsync(
                Header + Births(60) + Screens(60, "te-oae")
                + "screening,A1,,,,left,maybe,aabr,2026-11-02T09:15\nscreening,X9,,,,left,pass,aabr,2026-11-02T09:15\n",
                at: bed.Now.AddDays(-9));
            var page = await SignInAsync(bed, person, phone);
            await page.GotoAsync("/submissions/held");
            await SeeAsync(page, "held-list", phone);
            await page.GetByRole(AriaRole.Row, new() { Name = "method" }).GetByRole(AriaRole.Link, new() { Name = "60", Exact = true })
                .ClickAsync();
            await page.GetByRole(AriaRole.Button, new() { Name = "Decide about all 60 rows shown" }).ClickAsync();
            await page.SelectOptionAsync("#Field", "method");
            await page.FocusAsync("#Field");
            await page.Keyboard.PressAsync("Tab");
            await page.Keyboard.PressAsync("Enter"); // Next, by keyboard alone
            await page.FillAsync("#To", "teoae");
            await page.GetByRole(AriaRole.Button, new() { Name = "Look what it would do" }).ClickAsync();
            await page.GetByText("60 of 60 rows would be changed").WaitForAsync();
            await SeeAsync(page, "held-bulk-choice", phone);
            await page.GetByRole(AriaRole.Button, new() { Name = "Correct 60 rows" }).ClickAsync();
            await page.GetByRole(AriaRole.Heading, new() { Name = "Being carried out" }).WaitForAsync();
            await SeeAsync(page, "held-bulk-running", phone);
            var bulk = Guid.Parse(new Uri(page.Url).Segments[^1]);
            await bed.App.Services.GetRequiredService<DecideTogether>().RunAsync(bulk, IntakeBed.Ct); // as a worker would
            await page.GetByText("Decided, now accepted").WaitForAsync();
            Assert.Equal(60, await bed.CountAsync("screenings where superseded_at is null and method = 'teoae'"));
            await SeeAsync(page, "held-bulk-done", phone);

            await page.GetByRole(AriaRole.Link, new() { Name = "Row 61", Exact = true }).ClickAsync();
            await page.GetByText("te-oae").First.WaitForAsync();
            await SeeAsync(page, "held-row-corrected", phone);
            await page.GoBackAsync();
            await page.GetByRole(AriaRole.Button, new() { Name = "Take the whole decision back" }).ClickAsync();
            await page.GetByRole(AriaRole.Heading, new() { Name = "Being taken back" }).WaitForAsync();
            await bed.App.Services.GetRequiredService<DecideTogether>().RunAsync(bulk, IntakeBed.Ct);
            await page.GetByText("Taken back, now rejected").WaitForAsync();
            Assert.Equal(0, await bed.CountAsync("screenings where superseded_at is null"));
            Assert.Equal(61, await bed.CountAsync("submission_rows where outcome = 'rejected'"));

            await page.GotoAsync("/submissions/held?outcome=rejected");
            await page.GetByRole(AriaRole.Link, new() { Name = "Row 121" })
                .Or(page.GetByRole(AriaRole.Link, new() { Name = "Row 61", Exact = true })).First.ClickAsync();
            await SeeAsync(page, "held-row-form", phone);
        }
    }

    private static async Task<string> PageAsync(HttpResponseMessage answer)
    {
        Assert.Equal(HttpStatusCode.OK, answer.StatusCode);
        return WebUtility.HtmlDecode(await answer.Content.ReadAsStringAsync(IntakeBed.Ct));
    }

    private static string HiddenOf(string page, string name) => page.Split($"name=\"{name}\" value=\"")[1].Split('"')[0];

    [Fact]
    public async Task Only_what_was_tried_is_corrected_and_an_empty_value_is_a_value()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        // Two rows do not state the method's column of the instrument, one states a value of two lines.
        await bed.SendAsync("kind,record_number,ear,outcome,method,performed_at,instrument\n"
            + "screening,A1,right,maybe,oae,2026-11-02T09:15,\nscreening,A2,right,maybe,oae,2026-11-02T09:15,\nscreening,A3,right,maybe,oae,2026-11-02T09:15,\"ward\n2\"\n");
        var manager = await WhoSeesWhatTests.SignedInAsync(bed, Role.SiteManager, bed.Harbour);
        async Task<string> ChooseAsync() =>
            (await PostAsync(manager, "/submissions/held", "Choose", null, ("all", "true"))).Headers.Location!.OriginalString;
        async Task<List<string>> SaidInstrumentsAsync() => await bed.ListAsync(
            "select coalesce(content ->> 'instrument', '-') from submission_rows order by row_number");
        (string, string)[] Form(string rows, string to, string? tried = null, string stated = "", string of = "instrument") =>
        [
            ("Correction.Field", "instrument"), ("Correction.Of", of), ("Correction.Rows", rows), ("Correction.Stated", stated),
            ("Correction.To", to),
            .. tried is null ? [] : new[] { ("Correction.Tried", tried) },
        ];

        var bulk = await ChooseAsync();
        var page = await PageAsync(await PostAsync(manager, bulk, "Try", null, ("Correction.Field", "instrument")));
        Assert.DoesNotContain("would be changed", page, StringComparison.Ordinal);
        Assert.Contains("nothing (2 rows)", page, StringComparison.Ordinal);

        // "Nothing" stays chosen after the trial, and what was tried can be carried out only as it was tried.
        page = await PageAsync(await PostAsync(manager, bulk, "Try", null, Form("absent", "ward 1")));
        Assert.Contains("2 of 3 rows would be changed", System.Text.RegularExpressions.Regex.Replace(page, "<[^>]+>", ""),
            StringComparison.Ordinal);
        Assert.Matches("value=\"absent\" selected", page);
        var tried = HiddenOf(page, "Correction.Tried");
        foreach (var other in new[] { Form("any", "ward 1", tried), Form("absent", "ward 9", tried),
            Form("typed", "ward 1", tried, "ward 3"), Form("absent", "ward 1"), Form("absent", "ward 1", tried, of: "probe") })
            Assert.Contains("The choice is not the one that was tried",
                await PageAsync(await PostAsync(manager, bulk, "Correct", null, other)), StringComparison.Ordinal);
        Assert.Equal(["-", "-", "ward\n2"], await SaidInstrumentsAsync());
        Assert.Equal(0, await bed.CountAsync("bulk_decisions where decided_at is not null"));
        Assert.Equal(HttpStatusCode.Redirect,
            (await PostAsync(manager, bulk, "Correct", null, Form("absent", "ward 1", tried))).StatusCode);
        Assert.Equal(["instrument|-|ward 1"],
            await bed.ListAsync("select concat_ws('|', field, case from_value when '' then '-' end, to_value) from bulk_decisions"));
        // they do not pass their checks as corrected: the outcome is wrong still
        Assert.Equal(["-", "-", "ward\n2"], await SaidInstrumentsAsync());

        // The outcome of one row put right, the listed value of two lines can be cleared.
        var id = (await bed.ListAsync("select distinct submission_id from submission_rows"))[0];
        await PostAsync(manager, $"/submissions/{id}/rows/3", "Correct", null, ("Values[outcome]", "pass"), ("Seen", "0"));
        bulk = await ChooseAsync();
        page = await PageAsync(await PostAsync(manager, bulk, "Try", null, ("Correction.Field", "instrument")));
        var key = page.Split("<option value=\"value-")[1].Split('"')[0];
        page = await PageAsync(await PostAsync(manager, bulk, "Try", null, Form("value-" + key, "")));
        await PostAsync(manager, bulk, "Correct", null, Form("value-" + key, "", HiddenOf(page, "Correction.Tried")));
        Assert.Equal(["-", "-", "-"], await SaidInstrumentsAsync());
        Assert.Contains("Type what the rows state.",
            await PageAsync(await PostAsync(manager, await ChooseAsync(), "Try", null, Form("typed", "x"))), StringComparison.Ordinal);
        foreach (var number in new[] { "99", "-1", "2000000000", "x" })
            Assert.Equal(HttpStatusCode.OK, (await manager.GetAsync($"{bulk}?page={number}", IntakeBed.Ct)).StatusCode);
    }

    [Fact]
    public async Task The_form_of_a_row_changes_what_was_changed_and_cuts_nothing()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var note = new string('x', 5_000);
        var id = await bed.SendAsync("kind,record_number,ear,outcome,method,performed_at,stimulus,screener\n"
            + $"screening,A9,right,maybe,oae,2026-11-02T09:15,\"two\nlines\",{note}\nscreening,A8,left,maybe,oae,2026-11-02T09:15,,\nscreening,A8,left,pass,oae,2026-13-02T09:15,,\n");
        var screener = await WhoSeesWhatTests.SignedInAsync(bed, Role.Screener, bed.Harbour);
        var row = $"/submissions/{id}/rows/1";
        var page = WebUtility.HtmlDecode(await screener.GetStringAsync(row, IntakeBed.Ct));
        Assert.Contains(">two\nlines</textarea>", page, StringComparison.Ordinal);
        Assert.Contains($"/submissions/{id}/rows/2\">Next row like this", page, StringComparison.Ordinal);
        Assert.Contains(">Next waiting row", await screener.GetStringAsync($"/submissions/{id}/rows/3", IntakeBed.Ct),
            StringComparison.Ordinal);

        var wrong = await PostAsync(screener, row, "Correct", null, ("Values[outcome]", note), ("Values[stimulus]", "two\r\nlines"),
            ("Seen", "0"));
        Assert.Equal(HttpStatusCode.UnprocessableEntity, wrong.StatusCode);
        Assert.Contains("is longer than 4000 characters", await wrong.Content.ReadAsStringAsync(IntakeBed.Ct), StringComparison.Ordinal);
        // Everything the form holds is posted; only the outcome and the screener are other than they were.
        await PostAsync(screener, row, "Correct", null, ("Values[outcome]", "pass"), ("Values[stimulus]", "two\r\nlines"),
            ("Values[screener]", "S12"), ("Values[ear]", "right"), ("Seen", "0"));
        Assert.Equal(["held no_such_infant"], (await bed.OutcomesAsync(id))[..1]);
        Assert.Equal(["two\nlines"], await bed.ListAsync("select content ->> 'stimulus' from submission_rows where row_number = 1"));
        page = WebUtility.HtmlDecode(await screener.GetStringAsync(row, IntakeBed.Ct));
        Assert.DoesNotContain("<code>stimulus</code>: <del>", page, StringComparison.Ordinal);
        Assert.Contains("<code>outcome</code>: <del>maybe</del>", page, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_row_says_who_decided_what_and_that_an_undone_check_is_made_again_by_itself()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var coordinator = await WhoSeesWhatTests.SignedInAsync(bed, Role.Coordinator, null);
        var twin = $"/submissions/{await bed.SendAsync("kind,record_number,birth_date,sex,plurality\nbirth,T1,2026-11-01,female,2\n")}/rows/1";
        var page = await SaidAsync(coordinator, await PostAsync(coordinator, twin, "New"));
        Assert.Contains("Recorded as a new infant by Coordinator", page, StringComparison.Ordinal);
        Assert.DoesNotContain("Applied to the chosen infant", page, StringComparison.Ordinal);

        var test = $"/submissions/{await bed.SendAsync("kind,record_number,ear,outcome,method,performed_at\nscreening,A1,right,pass,oae,2026-11-02T09:15\n")}/rows/1";
        await bed.ListAsync("update held_rows set reason = 'partial_agreement' where kind = 'screening'"); // as if a person had to look
        await bed.SendAsync(Header + Births(1));
        page = await SaidAsync(coordinator, await PostAsync(coordinator, test, "Retry"));
        Assert.Contains("Checked and matched again by Coordinator", page, StringComparison.Ordinal);
        Assert.DoesNotContain("Applied by itself", page, StringComparison.Ordinal);
        await PostAsync(coordinator, test, "Undo");
        await bed.ListAsync("update held_rows set reason = 'no_such_infant' where kind = 'screening'");
        await PostAsync(coordinator, test, "Retry");
        Assert.Contains("is applied by itself within a minute", await SaidAsync(coordinator, await PostAsync(coordinator, test, "Undo")),
            StringComparison.Ordinal);
        await bed.App.Services.GetRequiredService<RetryHeldRows>().ForAllAsync(IntakeBed.Ct);
        Assert.Contains("Applied by itself", await coordinator.GetStringAsync(test, IntakeBed.Ct), StringComparison.Ordinal);
    }

    [Fact]
    public async Task What_the_reader_found_is_answered_by_the_column_or_by_a_tick()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var id = await bed.SendAsync("""{"kind":"birth","record_number":"A1","birth_date":"2026-11-01","sex":"male","sex":"female","colour":"blue"}""", format: SubmissionFormat.Ndjson);
        var screener = await WhoSeesWhatTests.SignedInAsync(bed, Role.Screener, bed.Harbour);
        var row = $"/submissions/{id}/rows/1";
        Assert.Contains("Still rejected", await SaidAsync(screener, await PostAsync(screener, row, "Retry")), StringComparison.Ordinal);
        var wrong = await PostAsync(screener, row, "Correct", null, ("Stands", "1"), ("Seen", "0"));
        Assert.Equal(HttpStatusCode.UnprocessableEntity, wrong.StatusCode);
        var page = WebUtility.HtmlDecode(await wrong.Content.ReadAsStringAsync(IntakeBed.Ct));
        Assert.Matches("name=\"Stands\" value=\"1\" checked", page);
        await PostAsync(screener, row, "Correct", null, ("Stands", "0"), ("Stands", "1"), ("Seen", "0"));
        Assert.Equal(["accepted"], await bed.OutcomesAsync(id));
        page = WebUtility.HtmlDecode(await screener.GetStringAsync(row, IntakeBed.Ct));
        Assert.Contains("In spite of: <code>sex</code> is stated twice", page, StringComparison.Ordinal);
    }

    [Fact]
    public async Task The_list_is_read_page_by_page_and_its_export_whole()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Header + Screens(120, "teoae"));
        await bed.SendAsync(Header + Screens(5, "te-oae"), at: bed.Now.AddDays(-9));
        var coordinator = await WhoSeesWhatTests.SignedInAsync(bed, Role.Coordinator, null);
        var (path, seen, pages) = ("/submissions/held", new HashSet<string>(), 0);
        while (path is not null)
        {
            var page = WebUtility.HtmlDecode(await coordinator.GetStringAsync(path, IntakeBed.Ct));
            Assert.Contains("of 125 rows on this page", page, StringComparison.Ordinal);
            foreach (var part in page.Split("name=\"ticked\" value=\"")[1..]) Assert.True(seen.Add(part.Split('"')[0]));
            path = page.Contains("rel=\"next\"", StringComparison.Ordinal) ? page.Split("rel=\"next\" href=\"")[1].Split('"')[0] : null;
            pages++;
        }

        Assert.Equal((3, 125), (pages, seen.Count));
        Assert.Equal(126, (await coordinator.GetStringAsync("/submissions/held?handler=Csv", IntakeBed.Ct)).Trim().Split('\n').Length);
        foreach (var after in new[] { "nonsense", "cjk", "OTk5OTk5OTk5OTk5OTk5OTk5OTk5LzEvMQ" })
            Assert.Equal(HttpStatusCode.OK, (await coordinator.GetAsync($"/submissions/held?after={after}", IntakeBed.Ct)).StatusCode);
    }

    [Fact]
    public async Task The_outcomes_of_the_rows_shown_are_exported_without_their_values()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var id = await bed.SendAsync(Header + Births(2) + "screening,SECRET-9,,,,right,pass,oae,2026-11-02T09:15\nscreening,A1,,,,middle,perhaps,oae,2026-11-02T09:15\n");
        var manager = await WhoSeesWhatTests.SignedInAsync(bed, Role.SiteManager, bed.Harbour);
        foreach (var (query, lines) in new[]
        {
            ("", new[] { "1,2,birth,accepted,,,", "2,3,birth,accepted,,,", "3,4,screening,held,,,no_such_infant",
                "4,5,screening,rejected,ear,", "4,5,screening,rejected,outcome," }),
            ("outcome=held", ["3,4,screening,held,,,no_such_infant"]),
            ("outcome=rejected&field=ear&reason=" + Uri.EscapeDataString("unknown code; it is one of: right, left"),
            ["4,5,screening,rejected,ear,", "4,5,screening,rejected,outcome,"]),
            ("kind=birth&outcome=accepted", ["1,2,birth,accepted,,,", "2,3,birth,accepted,,,"]), ("outcome=nonsense", []),
            ("kind=nonsense", []), ("held=nonsense", []),
        })
        {
            var page = await manager.GetStringAsync($"/submissions/{id}?{query}", IntakeBed.Ct);
            Assert.Equal(lines.Length > 0, page.Contains("handler=Outcomes", StringComparison.Ordinal));
            var csv = (await manager.GetStringAsync($"/submissions/{id}?{query}&handler=Outcomes", IntakeBed.Ct)).TrimStart('\uFEFF')
                .TrimEnd().Split("\r\n");
            Assert.Equal("row,line,kind,outcome,field,reason,held_reason", csv[0]);
            Assert.Equal(lines.Length, csv.Length - 1);
            foreach (var (expected, line) in lines.Zip(csv[1..])) Assert.StartsWith(expected, line, StringComparison.Ordinal);
            Assert.DoesNotContain("SECRET", string.Concat(csv), StringComparison.Ordinal);
        }

        var other = await WhoSeesWhatTests.SignedInAsync(bed, Role.SiteManager, bed.Hill);
        Assert.Equal(HttpStatusCode.NotFound, (await other.GetAsync($"/submissions/{id}?handler=Outcomes", IntakeBed.Ct)).StatusCode);
    }

    /// <param name="from">The page whose form it is; null: the one posted to.</param>
    private static async Task<HttpResponseMessage> PostAsync(
        HttpClient client, string path, string? handler, string? from = null, params (string Name, string Value)[] fields)
    {
        var token = await WhoSeesWhatTests.TokenAsync(client, from ?? path);
        using var content = new FormUrlEncodedContent(
            fields.Append((Name: "__RequestVerificationToken", Value: token))
                .Select(f => new KeyValuePair<string, string>(f.Name, f.Value)));
        return await client.PostAsync(handler is null ? path : $"{path}?handler={handler}", content, IntakeBed.Ct);
    }

    private static bool IsDenied(HttpResponseMessage answer) =>
        answer.StatusCode == HttpStatusCode.Forbidden || answer.Headers.Location?.OriginalString.Contains(
            "/denied", StringComparison.Ordinal) == true;

    /// <summary>The page an answer leads to.</summary>
    private static async Task<string> SaidAsync(HttpClient client, HttpResponseMessage answer)
    {
        Assert.Equal(HttpStatusCode.Redirect, answer.StatusCode);
        return await client.GetStringAsync(answer.Headers.Location, IntakeBed.Ct);
    }

    private async Task<IPage> SignInAsync(IntakeBed bed, Person person, bool phone)
    {
        var page = await chromium.OpenAsync(bed.App.Address, phone);
        page.PageError += (_, error) => Assert.Fail(error);
        await page.GotoAsync("/sign-in");
        await page.FillAsync("#Email", person.Email!);
        await page.FillAsync("#Password", IntakeBed.Password);
        await page.GetByRole(AriaRole.Button, new() { Name = "Sign in" }).ClickAsync();
        await page.WaitForURLAsync(url => !url.Contains("/sign-in", StringComparison.Ordinal));
        return page;
    }

    private static async Task SeeAsync(IPage page, string name, bool phone)
    {
        Assert.True(await page.EvaluateAsync<bool>("document.documentElement.scrollWidth <= document.documentElement.clientWidth"),
            $"{name} overflows");
        if (Environment.GetEnvironmentVariable("REGISTRY_SCREENSHOTS") == "1")
            await page.ScreenshotAsync(
                new()
                {
                    Path = Path.Combine(SourceTree.Root, $"docs/screens/{name}-{(phone ? "phone" : "desktop")}.png"),
                    FullPage = name.StartsWith("held-row", StringComparison.Ordinal)
                });
    }
}
