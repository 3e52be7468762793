using System.Text;
using Microsoft.Playwright;
using Registry.Records;
using Registry.Tests.Browser;

namespace Registry.Tests.Intake.Submissions;

public sealed class SubmissionPagesTests(TestDatabase database, Chromium chromium)
{
    private const string File =
        """
        kind,record_number,birth_date,sex,mother_given_name,mother_family_name,mother_birth_date,ear,outcome,method,performed_at
        birth,A1,2026-11-01,female,Ada,Marlow,1995-02-03,,,,
        birth,A2,2026-13-01,female,Bea,"Quist, b. Holm",1995-02-03,,,,
        screening,A1,,,,,,right,pass,oae,2026-11-02T09:15
        screening,A9,,,,,,right,refer,oae,2026-11-02T09:20
        screening,A1,,,,,,left,maybe,oae,2026-11-02T09:25

        """;

    [Fact]
    public async Task A_screener_uploads_a_file_and_takes_the_rejected_rows_home_to_correct_them()
    {
        await using var bed = await IntakeBed.StartAsync(database, listen: true);
        var page = await SignInAsync(bed, await bed.AddPersonAsync(Role.Screener, bed.Harbour));
        await page.GotoAsync("/submissions");
        await page.Locator("main").GetByRole(AriaRole.Link, new() { Name = "Upload a file" }).ClickAsync();
        await page.SetInputFilesAsync(
            "input[type=file]", new FilePayload { Name = "today.csv", MimeType = "text/csv", Buffer = Encoding.UTF8.GetBytes(File) });
        await page.SeeHereAsync("submission-new", whole: true);
        await page.GetByRole(AriaRole.Button, new() { Name = "Upload", Exact = true }).ClickAsync();
        await page.GetByRole(AriaRole.Heading, new() { Name = "today.csv Done" }).WaitForAsync();
        await page.SeeHereAsync("submission", whole: true);
        var text = await page.InnerTextAsync("main");
        Assert.Contains("2 of 5", text, StringComparison.Ordinal);
        Assert.Contains("is not a day of the calendar", text, StringComparison.Ordinal);
        Assert.Contains("No such infant yet", text, StringComparison.Ordinal);

        var waiting = page.WaitForDownloadAsync();
        await page.GetByRole(AriaRole.Link, new() { Name = "Rejected rows as CSV" }).ClickAsync();
        var download = await waiting;
        var rejected = await System.IO.File.ReadAllTextAsync(await download.PathAsync(), IntakeBed.Ct);
        var id = (await bed.ListAsync("select id from submissions"))[0];
        Assert.Equal(
            $"""
            kind,record_number,birth_date,sex,mother_given_name,mother_family_name,mother_birth_date,ear,outcome,method,performed_at,problems
            birth,A2,2026-13-01,female,Bea,"Quist, b. Holm",1995-02-03,,,,,birth_date is not a day of the calendar [row 2 of {id}]
            screening,A1,,,,,,left,maybe,oae,2026-11-02T09:25,"outcome unknown code; it is one of: pass, refer, no_valid_result, not_performed [row 5 of {id}]"

            """, rejected);

        // Corrected, it is sent back as it is.
        var corrected = rejected.Replace("2026-13-01", "2026-11-03", StringComparison.Ordinal)
            .Replace("maybe", "pass", StringComparison.Ordinal);
        Assert.Equal(["accepted", "accepted"], await bed.OutcomesAsync(await bed.SendAsync(corrected)));

        await page.GotoAsync("/submissions?with=rejected");
        await page.SeeHereAsync("submissions", whole: true);
        await page.GetByRole(AriaRole.Row, new() { Name = "today.csv" })
            .GetByRole(AriaRole.Link, new() { Name = "1", Exact = true }).First.ClickAsync();
        Assert.Contains("/submissions/", page.Url, StringComparison.Ordinal);
        Assert.Empty(await page.EvaluateAsync<string[]>(
            "performance.getEntriesByType('resource').filter(r => r.responseStatus >= 400).map(r => r.name)"));
    }

    [Fact]
    public async Task A_file_is_tried_with_nothing_stored_and_then_uploaded_without_being_chosen_again()
    {
        await using var bed = await IntakeBed.StartAsync(database, listen: true);
        foreach (var phone in new[] { false, true })
        {
            var page = await SignInAsync(bed, await bed.AddPersonAsync(Role.Screener, bed.Harbour), phone);
            await page.GotoAsync("/submissions/new");
            await page.SetInputFilesAsync(
                "input[type=file]", new FilePayload
                {
                    Name = "today.csv",
                    MimeType = "text/csv",
                    Buffer = Encoding.UTF8.GetBytes(File.Replace("A", phone ? "P" : "D", StringComparison.Ordinal))
                });
            var before = await bed.CountAsync("submissions");
            await page.GetByRole(AriaRole.Button, new() { Name = "Try it, store nothing" }).ClickAsync();
            await page.GetByRole(AriaRole.Heading, new() { Name = "Tried, and nothing stored" }).WaitForAsync();
            var text = await page.InnerTextAsync("[data-trial]");
            Assert.Contains("5 rows, as they would be taken at this moment", text, StringComparison.Ordinal);
            Assert.Contains("is not a day of the calendar", text, StringComparison.Ordinal);
            Assert.Contains("2 of 5", text, StringComparison.Ordinal);
            await page.SeeHereAsync("submission-tried", whole: true);
            Assert.Equal(before, await bed.CountAsync("submissions"));
            await page.GetByRole(AriaRole.Button, new() { Name = "Upload", Exact = true }).ClickAsync();
            await page.GetByRole(AriaRole.Heading, new() { Name = "today.csv Done" }).WaitForAsync();
            Assert.Contains("UTF-8", await page.InnerTextAsync("main"), StringComparison.Ordinal);
            Assert.True(await page.EvaluateAsync<bool>("document.documentElement.scrollWidth <= document.documentElement.clientWidth"));
        }
    }

    [Fact]
    public async Task A_file_that_cannot_be_read_says_where_and_the_form_says_what_is_missing()
    {
        await using var bed = await IntakeBed.StartAsync(database, listen: true);
        var page = await SignInAsync(bed, await bed.AddPersonAsync(Role.Coordinator), phone: true);
        await page.GotoAsync("/submissions/new");
        await page.SelectOptionAsync("#Upload_Site", "hill");
        await page.SetInputFilesAsync(
            "input[type=file]", new FilePayload { Name = "today.pdf", MimeType = "text/csv", Buffer = "x"u8.ToArray() });
        await page.GetByRole(AriaRole.Button, new() { Name = "Upload", Exact = true }).ClickAsync();
        await page.GetByText("must end in .csv").WaitForAsync();
        await page.SetInputFilesAsync(
            "input[type=file]", new FilePayload
            {
                Name = "today.csv",
                MimeType = "text/csv",
                Buffer = Encoding.UTF8.GetBytes("kind,record_number\nbirth,1\nbirth\n")
            });
        await page.GetByRole(AriaRole.Button, new() { Name = "Upload", Exact = true }).ClickAsync();
        await page.GetByText("nothing in it was applied").WaitForAsync();
        Assert.Contains("has 1 fields where the header has 2", await page.InnerTextAsync("main"), StringComparison.Ordinal);
        await page.SeeHereAsync("submission-refused", whole: true);
    }

    [Fact]
    public async Task A_coordinator_settles_a_held_row_and_takes_it_back()
    {
        await using var bed = await IntakeBed.StartAsync(database, listen: true);
        await bed.SendAsync("kind,record_number,card_id,birth_date,sex,mother_given_name,mother_family_name,mother_birth_date\nbirth,A1,C1,2026-11-01,female,Ada,Marlow,1995-02-03\n");
        var id = await bed.SendAsync("kind,record_number,birth_date,sex,mother_given_name,mother_family_name,mother_birth_date\nbirth,B7,2026-11-01,female,Ada,Marlowe,1995-02-03\n", bed.Hill);
        var page = await SignInAsync(bed, await bed.AddPersonAsync(Role.Coordinator));
        await page.GotoAsync("/submissions");
        await page.GetByRole(AriaRole.Link, new() { Name = "1 row held for review" }).ClickAsync();
        await page.SeeHereAsync("submissions-held", whole: true);
        await page.GetByRole(AriaRole.Link, new() { Name = "Row 1" }).ClickAsync();
        await page.SeeHereAsync("submission-row", whole: true);
        page.Dialog += async (_, dialog) => await dialog.AcceptAsync();
        await page.GetByRole(AriaRole.Button, new() { Name = "It is this infant" }).ClickAsync();
        await page.GetByText("The row was applied to the infant you chose.").WaitForAsync();
        Assert.Equal(1, await bed.CountAsync("infants"));
        await page.GetByRole(AriaRole.Button, new() { Name = "Take the decision back" }).ClickAsync();
        await page.GetByText("the row is again as it was before").WaitForAsync();
        await page.GetByLabel("Record number or card id").FillAsync("C1");
        await page.GetByRole(AriaRole.Button, new() { Name = "Look for it" }).ClickAsync();
        await page.GetByText("C1 (card)").WaitForAsync();
        Assert.DoesNotContain("C1", page.Url, StringComparison.Ordinal);
        Assert.Equal(["held partial_agreement"], await bed.OutcomesAsync(id));
        Assert.True(await bed.CountAsync("access_records where infant_count > 0") > 0);
    }

    [Fact]
    public async Task A_long_file_shows_its_progress_until_it_is_done()
    {
        await using var bed = await IntakeBed.StartAsync(database, new Dictionary<string, string?> { ["Intake:InlineRows"] = "10" },
            listen: true);
        var page = await SignInAsync(bed, await bed.AddPersonAsync(Role.Screener, bed.Harbour));
        await page.GotoAsync("/submissions/new");
        await page.SelectOptionAsync("#Upload_Kind", "birth");
        var rows = string.Concat(Enumerable.Range(1, 500).Select(i => $"{i},2026-11-01,female\n"));
        await page.SetInputFilesAsync(
            "input[type=file]", new FilePayload
            {
                Name = "many.csv",
                MimeType = "text/csv",
                Buffer = Encoding.UTF8.GetBytes("record_number,birth_date,sex\n" + rows)
            });
        await page.GetByRole(AriaRole.Button, new() { Name = "Upload", Exact = true }).ClickAsync();
        await page.GetByRole(AriaRole.Heading, new() { Name = "Being processed" }).WaitForAsync();
        await bed.Process.RunAsync(Guid.Parse((await bed.ListAsync("select id from submissions"))[0]), IntakeBed.Ct);
        await page.GetByText("500 of 500").WaitForAsync();
    }

    [Fact]
    public async Task A_hundred_thousand_rows_are_followed_filtered_taken_home_and_corrected()
    {
        const int rows = 100_000;
        await using var bed = await IntakeBed.StartAsync(database, listen: true);
        var page = await SignInAsync(bed, await bed.AddPersonAsync(Role.Screener, bed.Harbour));
        await page.GotoAsync("/submissions/new");
        await page.SelectOptionAsync("#Upload_Kind", "birth");
        // Every thousandth has a date that is none, every ten-thousandth a sex that is none beside it.
        var file = new StringBuilder("record_number,birth_date,sex\n");
        for (var i = 1; i <= rows; i++)
            file.Append(i).Append(i % 1_000 == 0 ? ",2026-11-31," : $",2026-{1 + (i % 10):00}-{1 + (i % 28):00},")
                .Append(i % 10_000 == 0 ? "girl\n" : "female\n");
        await page.SetInputFilesAsync(
            "input[type=file]", new FilePayload
            {
                Name = "years.csv",
                MimeType = "text/csv",
                Buffer = Encoding.UTF8.GetBytes(file.ToString())
            });
        await page.GetByRole(AriaRole.Button, new() { Name = "Upload", Exact = true }).ClickAsync();
        await page.GetByRole(AriaRole.Heading, new() { Name = "Being processed" }).WaitForAsync();
        var id = (await bed.ListAsync("select id from submissions"))[0];

        var working = bed.Process.RunAsync(Guid.Parse(id), IntakeBed.Ct);
        await page.WaitForFunctionAsync(
            "() => { const bar = document.querySelector('[data-follow] progress'); return bar && bar.value > 0 && bar.value < 100000; }");
        await page.SeeHereAsync("submission-progress", whole: true);
        Assert.True(await working);
        await page.GetByRole(AriaRole.Heading, new() { Name = "years.csv Done" }).WaitForAsync();
        Assert.Contains("99,900 of 100,000", await page.InnerTextAsync("main"), StringComparison.Ordinal);

        await page.GetByRole(AriaRole.Link, new() { Name = "100 of 100,000" }).ClickAsync();
        await page.GetByRole(AriaRole.Heading, new() { Name = "Rows rejected" }).WaitForAsync();
        Assert.Equal(100, await page.Locator("table.stacked tbody tr").CountAsync());
        await page.SeeHereAsync("submission-long-rejected", whole: true);
        await page.Locator("li", new() { HasText = "is none of these" }).GetByRole(AriaRole.Link).ClickAsync();
        await page.ArriveAsync(url => url.Contains("reason=", StringComparison.Ordinal));
        Assert.Equal(10, await page.Locator("table.stacked tbody tr").CountAsync());

        var waiting = page.WaitForDownloadAsync();
        await page.GetByRole(AriaRole.Link, new() { Name = "Rejected rows as CSV" }).ClickAsync();
        var rejected = await System.IO.File.ReadAllTextAsync(await (await waiting).PathAsync(), IntakeBed.Ct);
        Assert.Equal(101, rejected.TrimEnd('\n').Split('\n').Length);
        await page.GotoAsync("/submissions/new");
        await page.SetInputFilesAsync("input[type=file]", new FilePayload
        {
            Name = "corrected.csv",
            MimeType = "text/csv",
            Buffer = Encoding.UTF8.GetBytes(rejected.Replace("2026-11-31", "2026-11-01", StringComparison.Ordinal)
                .Replace(",girl,", ",female,", StringComparison.Ordinal)),
        });
        await page.GetByRole(AriaRole.Button, new() { Name = "Upload", Exact = true }).ClickAsync();
        await page.GetByRole(AriaRole.Heading, new() { Name = "corrected.csv Done" }).WaitForAsync();
        Assert.Contains("100 of 100", await page.InnerTextAsync("main"), StringComparison.Ordinal);
        Assert.Equal(rows, await bed.CountAsync("infants"));
    }

    [Fact]
    public async Task Another_sites_submission_is_not_there()
    {
        await using var bed = await IntakeBed.StartAsync(database, listen: true);
        var id = await bed.SendAsync("kind,record_number,ear,outcome,method,performed_at\nscreening,A9,right,pass,oae,2026-11-02T09:15\n");
        var page = await SignInAsync(bed, await bed.AddPersonAsync(Role.SiteManager, bed.Hill));
        foreach (var path in new[] { "", "?handler=Raw", "?handler=Rejected", "?handler=Status", "/rows/1" })
            Assert.Equal(404, (await page.Context.APIRequest.GetAsync($"{bed.App.Address}submissions/{id}{path}")).Status);
        await page.GotoAsync("/submissions/held");
        Assert.Contains("No row waits here", await page.InnerTextAsync("main"), StringComparison.Ordinal);
    }

    private async Task<IPage> SignInAsync(IntakeBed bed, Person person, bool phone = false) =>
        await SignedIn.OpenAsync(chromium, bed.App, person.Email!, phone: phone);
}
