using System.Text;
using Microsoft.Playwright;
using Registry.Records;
using Registry.Tests.Architecture;
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
        await page.GetByRole(AriaRole.Link, new() { Name = "Upload a file" }).ClickAsync();
        await page.SetInputFilesAsync(
            "input[type=file]", new FilePayload { Name = "today.csv", MimeType = "text/csv", Buffer = Encoding.UTF8.GetBytes(File) });
        await ShootAsync(page, "submission-new");
        await page.GetByRole(AriaRole.Button, new() { Name = "Upload", Exact = true }).ClickAsync();
        await page.GetByRole(AriaRole.Heading, new() { Name = "today.csv Done" }).WaitForAsync();
        await ShootAsync(page, "submission");
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
        await ShootAsync(page, "submissions");
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
            await ShootAsync(page, "submission-tried");
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
        await ShootAsync(page, "submission-refused");
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
        await ShootAsync(page, "submissions-held");
        await page.GetByRole(AriaRole.Link, new() { Name = "Row 1" }).ClickAsync();
        await ShootAsync(page, "submission-row");
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
        await ShootAsync(page, "submission-progress");
        Assert.True(await working);
        await page.GetByRole(AriaRole.Heading, new() { Name = "years.csv Done" }).WaitForAsync();
        Assert.Contains("99,900 of 100,000", await page.InnerTextAsync("main"), StringComparison.Ordinal);

        await page.GetByRole(AriaRole.Link, new() { Name = "100 of 100,000" }).ClickAsync();
        await page.GetByRole(AriaRole.Heading, new() { Name = "Rows rejected" }).WaitForAsync();
        Assert.Equal(100, await page.Locator("table.stacked tbody tr").CountAsync());
        await ShootAsync(page, "submission-long-rejected");
        await page.Locator("li", new() { HasText = "unknown code" }).GetByRole(AriaRole.Link).ClickAsync();
        await page.WaitForURLAsync(url => url.Contains("reason=", StringComparison.Ordinal));
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
    public async Task A_manager_makes_a_mapping_from_a_sample_looks_at_it_saves_it_and_takes_it_back()
    {
        await using var bed = await IntakeBed.StartAsync(database, listen: true);
        var page = await SignInAsync(bed, await bed.AddPersonAsync(Role.SiteManager, bed.Harbour));
        page.Dialog += async (_, dialog) => await dialog.AcceptAsync();
        await page.GotoAsync("/submissions/mappings");
        await page.GetByRole(AriaRole.Link, new() { Name = "New mapping" }).ClickAsync();
        await page.GetByLabel("Name").FillAsync("ward list");
        const string file = "MRN,Born on,Sex,Mother\n71,11/01/2026,F,Núñez\n72,11/02/2026,M,Ott\n";
        await page.SetInputFilesAsync(
            "input[type=file]", new FilePayload
            {
                Name = "ward.csv",
                MimeType = "text/csv",
                Buffer = CodePagesEncodingProvider.Instance.GetEncoding(1252)!.GetBytes(file)
            });
        await page.GetByRole(AriaRole.Button, new() { Name = "Read the sample" }).ClickAsync();
        await page.GetByText("11/01/2026 · 11/02/2026").WaitForAsync();
        Assert.Equal("sex", await page.GetByLabel("Sex is read as").InputValueAsync());
        Assert.Equal(0, await page.GetByRole(AriaRole.Button, new() { Name = "Save" }).CountAsync());

        await page.GetByLabel("MRN is read as").SelectOptionAsync("record_number");
        await page.GetByLabel("Born on is read as").SelectOptionAsync("birth_date");
        await page.GetByLabel("Mother is read as").SelectOptionAsync("mother_family_name");
        await page.GetByLabel("Codes of Sex").FillAsync("F = female\nM = male");
        await page.GetByLabel("Column of fixed value 1").SelectOptionAsync("kind");
        await page.GetByLabel("Fixed value 1", new() { Exact = true }).FillAsync("birth");
        await page.GetByRole(AriaRole.Button, new() { Name = "Look at the rows" }).ClickAsync();
        // The dates are not ours, and the preview says so before anything is read in earnest.
        await page.GetByText("0 of 2 rows would pass").WaitForAsync();
        await page.GetByLabel("Form of the dates of Born on").FillAsync("MM/dd/yyyy");
        await page.GetByRole(AriaRole.Button, new() { Name = "Save" }).ClickAsync();
        // What was looked at is not what would be saved: it is shown again first.
        await page.GetByText("2 of 2 rows would pass").WaitForAsync();
        Assert.Contains("2026-11-01", await page.InnerTextAsync("main"), StringComparison.Ordinal);
        Assert.Equal(0, await bed.CountAsync("column_mapping_versions"));
        await ShootAsync(page, "mapping");
        await page.GetByRole(AriaRole.Button, new() { Name = "Save" }).ClickAsync();
        await page.GetByText("The mapping is saved and in force.").WaitForAsync();

        await page.GotoAsync("/submissions/new");
        await page.SetInputFilesAsync(
            "input[type=file]", new FilePayload
            {
                Name = "ward.csv",
                MimeType = "text/csv",
                Buffer = CodePagesEncodingProvider.Instance.GetEncoding(1252)!.GetBytes(file)
            });
        await page.GetByRole(AriaRole.Button, new() { Name = "Upload", Exact = true }).ClickAsync();
        await page.GetByRole(AriaRole.Heading, new() { Name = "ward.csv Done" }).WaitForAsync();
        Assert.Equal(["2026-11-01 female Núñez", "2026-11-02 male Ott"],
            await bed.ListAsync("select concat_ws(' ', born_on, sex, mother_family_name) from births order by 1"));
        await page.GetByRole(AriaRole.Link, new() { Name = "ward list, version 1" }).ClickAsync();
        await page.GetByRole(AriaRole.Button, new() { Name = "Take out of use" }).ClickAsync();
        await page.GetByText("The mapping is out of use.").WaitForAsync();
        await page.GetByRole(AriaRole.Button, new() { Name = "Put version 1 in force again" }).ClickAsync();
        await page.GetByText("Version 1 is in force again.").WaitForAsync();
        await ShootAsync(page, "mapping-versions");
        Assert.Equal(3, await bed.CountAsync("column_mapping_versions"));
        Assert.True(await bed.CountAsync("access_records where action like '%mappings%' and infant_count = 2") > 0);

        var other = await SignInAsync(bed, await bed.AddPersonAsync(Role.SiteManager, bed.Hill), phone: true);
        Assert.Equal(404, (await other.GotoAsync(new Uri(page.Url).AbsolutePath))!.Status);
        var coordinator = await SignInAsync(bed, await bed.AddPersonAsync(Role.Coordinator), phone: true);
        await coordinator.GotoAsync("/submissions/mappings");
        await ShootAsync(coordinator, "mappings");
        await coordinator.GetByRole(AriaRole.Link, new() { Name = "ward list" }).ClickAsync();
        await coordinator.GetByRole(AriaRole.Heading, new() { Name = "Versions" }).WaitForAsync();
        await ShootAsync(coordinator, "mapping");
        Assert.True(await coordinator.EvaluateAsync<bool>("document.documentElement.scrollWidth <= document.documentElement.clientWidth"));
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

    /// <summary><c>REGISTRY_SCREENSHOTS=1</c> keeps what was seen in docs/screens.</summary>
    private static async Task ShootAsync(IPage page, string name)
    {
        if (Environment.GetEnvironmentVariable("REGISTRY_SCREENSHOTS") == "1")
            await page.ScreenshotAsync(
                new()
                {
                    Path = Path.Combine(SourceTree.Root, "docs/screens",
                $"{name}-{(page.ViewportSize!.Width < 600 ? "phone" : "desktop")}.png"),
                    FullPage = true
                });
    }
}
