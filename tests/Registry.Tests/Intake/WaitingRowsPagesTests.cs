using System.Net;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Playwright;
using Registry.Access;
using Registry.Intake;
using Registry.Records;
using Registry.Tests.Access;
using Registry.Tests.Architecture;
using Registry.Tests.Browser;

namespace Registry.Tests.Intake;

/// <summary>Who may correct, discard and decide what, over HTTP; and a bulk correction with its undo in a browser.</summary>
public sealed class WaitingRowsPagesTests(TestDatabase database, Chromium chromium)
{
    private const string Header = "kind,record_number,birth_date,sex,mother_family_name,ear,outcome,method,performed_at\n";

    private static string Births(int n) => string.Concat(Enumerable.Range(1, n).Select(i => $"birth,A{i},2026-11-01,female,Marlow{i},,,,\n"));

    private static string Screens(int n, string method) => string.Concat(Enumerable.Range(1, n).Select(i => $"screening,A{i},,,,right,pass,{method},2026-11-02T09:15\n"));

    [Fact]
    public async Task A_screener_corrects_a_manager_discards_and_only_a_coordinator_says_whom_a_row_is_about()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var id = await bed.SendAsync(Header + Births(1) + "screening,A1,,,,right,maybe,oae,2026-11-02T09:15\nscreening,A9,,,,left,pass,oae,2026-11-02T09:15\n");
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
        Assert.Equal(HttpStatusCode.NotFound, (await PostAsync(other, rejected, "Correct", "/submissions/new", ("Values[outcome]", "pass"))).StatusCode);

        var wrong = await PostAsync(screener, rejected, "Correct", null, ("Values[outcome]", "pass"), ("Values[ear]", "middle"), ("Seen", "0"));
        Assert.Equal(HttpStatusCode.UnprocessableEntity, wrong.StatusCode);
        var page = WebUtility.HtmlDecode(await wrong.Content.ReadAsStringAsync(IntakeBed.Ct));
        Assert.Contains("value=\"middle\"", page, StringComparison.Ordinal);
        Assert.Contains("unknown code; it is one of: right, left", page, StringComparison.Ordinal);
        Assert.Contains("The corrected row was applied.", await SaidAsync(screener, await PostAsync(screener, rejected, "Correct", null, ("Values[outcome]", "pass"), ("Seen", "0"))), StringComparison.Ordinal);
        Assert.Equal(["accepted", "accepted", "held no_such_infant"], await bed.OutcomesAsync(id));
        Assert.Contains("<del>maybe</del>", WebUtility.HtmlDecode(await manager.GetStringAsync(rejected, IntakeBed.Ct)), StringComparison.Ordinal);

        Assert.Contains("The row was discarded.", await SaidAsync(manager, await PostAsync(manager, held, "Discard", null, ("Seen", "0"))), StringComparison.Ordinal);
        Assert.True(IsDenied(await PostAsync(screener, held, "Undo"))); // who may not discard may not take a discarding back
        Assert.Contains("waits no more: discarded by SiteManager", WebUtility.HtmlDecode(await SaidAsync(screener, await PostAsync(screener, held, "Retry"))), StringComparison.Ordinal);
        Assert.Contains("again as it was before", await SaidAsync(manager, await PostAsync(manager, held, "Undo")), StringComparison.Ordinal);
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
            (await list.SitesAsync(new(null), IntakeBed.Ct)).Select(s => $"{s.Name} {string.Join(' ', s.Rows.OrderBy(r => r.Key).Select(r => r.Value))}"));
        foreach (var (query, rows) in new[]
        {
            ("", 7), ("?outcome=held", 3), ("?outcome=rejected&age=older", 3), ("?age=today", 2), ("?site=hill", 1), ("?kind=birth", 0),
            ("?held=no_such_infant&site=harbour", 2), ("?outcome=rejected&field=method&reason=" + Uri.EscapeDataString("unknown code; it is one of: unknown, oae, teoae, dpoae, aabr, abr"), 4),
        })
        {
            var csv = await coordinator.GetStringAsync("/submissions/held" + (query.Length == 0 ? "?" : query + "&") + "handler=Csv", IntakeBed.Ct);
            Assert.True(rows == csv.Trim().Split('\n').Length - 1, $"{query}: {csv}");
            Assert.DoesNotContain("SECRET-9", csv, StringComparison.Ordinal);
        }

        var page = await coordinator.GetStringAsync("/submissions/held", IntakeBed.Ct);
        Assert.DoesNotContain("SECRET-9", page, StringComparison.Ordinal);
        var manager = await WhoSeesWhatTests.SignedInAsync(bed, Role.SiteManager, bed.Hill);
        Assert.DoesNotContain("Harbour", await manager.GetStringAsync("/submissions/held?site=harbour", IntakeBed.Ct), StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_bulk_decision_is_its_sites_and_each_role_decides_what_it_may()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var id = await bed.SendAsync(Header + Screens(2, "teoae"));
        var screener = await WhoSeesWhatTests.SignedInAsync(bed, Role.Screener, bed.Harbour);
        var manager = await WhoSeesWhatTests.SignedInAsync(bed, Role.SiteManager, bed.Harbour);
        var other = await WhoSeesWhatTests.SignedInAsync(bed, Role.SiteManager, bed.Hill);
        Assert.Contains("Tick the rows first", await SaidAsync(screener, await PostAsync(screener, "/submissions/held", "Choose")), StringComparison.Ordinal);
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
            if (!phone) await bed.SendAsync(Header + Births(60) + Screens(60, "te-oae") + "screening,A1,,,,left,maybe,aabr,2026-11-02T09:15\nscreening,X9,,,,left,pass,aabr,2026-11-02T09:15\n", at: bed.Now.AddDays(-9));
            var page = await SignInAsync(bed, person, phone);
            await page.GotoAsync("/submissions/held");
            await SeeAsync(page, "held-list", phone);
            await page.GetByRole(AriaRole.Row, new() { Name = "method" }).GetByRole(AriaRole.Link, new() { Name = "60", Exact = true }).ClickAsync();
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
            await page.GetByRole(AriaRole.Link, new() { Name = "Row 121" }).Or(page.GetByRole(AriaRole.Link, new() { Name = "Row 61", Exact = true })).First.ClickAsync();
            await SeeAsync(page, "held-row-form", phone);
        }
    }

    /// <param name="from">The page whose form it is; null: the one posted to.</param>
    private static async Task<HttpResponseMessage> PostAsync(
        HttpClient client, string path, string handler, string? from = null, params (string Name, string Value)[] fields)
    {
        var token = await WhoSeesWhatTests.TokenAsync(client, from ?? path);
        using var content = new FormUrlEncodedContent(
            fields.Append((Name: "__RequestVerificationToken", Value: token)).Select(f => new KeyValuePair<string, string>(f.Name, f.Value)));
        return await client.PostAsync($"{path}?handler={handler}", content, IntakeBed.Ct);
    }

    private static bool IsDenied(HttpResponseMessage answer) =>
        answer.StatusCode == HttpStatusCode.Forbidden || answer.Headers.Location?.OriginalString.Contains("/denied", StringComparison.Ordinal) == true;

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
        Assert.True(await page.EvaluateAsync<bool>("document.documentElement.scrollWidth <= document.documentElement.clientWidth"), $"{name} overflows");
        if (Environment.GetEnvironmentVariable("REGISTRY_SCREENSHOTS") == "1")
            await page.ScreenshotAsync(new() { Path = Path.Combine(SourceTree.Root, $"docs/screens/{name}-{(phone ? "phone" : "desktop")}.png"), FullPage = name.StartsWith("held-row", StringComparison.Ordinal) });
    }
}
