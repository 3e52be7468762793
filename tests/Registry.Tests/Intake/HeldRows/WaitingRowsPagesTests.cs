using Microsoft.Extensions.DependencyInjection;
using Microsoft.Playwright;
using Registry.Intake.HeldRows.Bulk;
using Registry.Records;
using Registry.Tests.Architecture;
using Registry.Tests.Browser;
using static Registry.Tests.Intake.HeldRows.WaitingRowsForms;

namespace Registry.Tests.Intake.HeldRows;

/// <summary>A bulk correction and its taking back, in a browser.</summary>
public sealed class WaitingRowsPagesTests(TestDatabase database, Chromium chromium)
{
    [Fact]
    public async Task One_wrong_code_is_corrected_in_many_rows_and_taken_back()
    {
        await using var bed = await IntakeBed.StartAsync(database, listen: true);
        var person = await bed.AddPersonAsync(Role.Screener, bed.Harbour);
        foreach (var phone in new[] { false, true })
        {
            if (!phone) await bed.SendAsync(
                WaitingRowsForms.Header + Births(60) + Screens(60, "te-oae")
                + "screening,A1,,,,left,maybe,aabr,2026-11-02T09:15\nscreening,X9,,,,left,pass,aabr,2026-11-02T09:15\n",
                at: bed.Now.AddDays(-9));
            var page = await SignedIn.OpenAsync(chromium, bed.App, person.Email!, phone: phone);
            await page.GotoAsync("/submissions/held");
            await SeeAsync(page, "held-list", phone);
            await page.GetByRole(AriaRole.Row, new() { Name = "method" }).GetByRole(AriaRole.Link, new() { Name = "60", Exact = true })
                .ClickAsync();
            await page.GetByRole(AriaRole.Button, new() { Name = "Decide about all 60 rows shown" }).ClickAsync();
            await page.SelectOptionAsync("#Field", "method");
            await page.FocusAsync("#Field");
            await page.Keyboard.PressAsync("Tab");
            await page.Keyboard.PressAsync("Enter"); // Next, by keyboard alone
            await page.SelectOptionAsync("#To", "teoae");
            await page.GetByRole(AriaRole.Button, new() { Name = "Look what it would do" }).ClickAsync();
            await page.GetByText("60 of 60 rows would be changed").WaitForAsync();
            await SeeAsync(page, "held-bulk-choice", phone);
            await page.GetByRole(AriaRole.Button, new() { Name = "Correct 60 rows" }).ClickAsync();
            await page.GetByRole(AriaRole.Heading, new() { Name = "Being carried out" }).WaitForAsync();
            await SeeAsync(page, "held-bulk-running", phone);
            var bulk = Guid.Parse(new Uri(page.Url).Segments[^1]);
            await bed.App.Services.GetRequiredService<DecideInBulk>().RunAsync(bulk, IntakeBed.Ct); // as a worker would
            await page.GetByText("Decided, now accepted").WaitForAsync();
            Assert.Equal(60, await bed.CountAsync("screenings where superseded_at is null and method = 'teoae'"));
            await SeeAsync(page, "held-bulk-done", phone);

            await page.GetByRole(AriaRole.Link, new() { Name = "Row 61", Exact = true }).ClickAsync();
            await page.GetByText("te-oae").First.WaitForAsync();
            await SeeAsync(page, "held-row-corrected", phone);
            await page.GoBackAsync();
            await page.GetByRole(AriaRole.Button, new() { Name = "Take the whole decision back" }).ClickAsync();
            await page.GetByRole(AriaRole.Heading, new() { Name = "Being taken back" }).WaitForAsync();
            await bed.App.Services.GetRequiredService<DecideInBulk>().RunAsync(bulk, IntakeBed.Ct);
            await page.GetByText("Taken back, now rejected").WaitForAsync();
            Assert.Equal(0, await bed.CountAsync("screenings where superseded_at is null"));
            Assert.Equal(61, await bed.CountAsync("submission_rows where outcome = 'rejected'"));

            await page.GotoAsync("/submissions/held?outcome=rejected");
            await page.GetByRole(AriaRole.Link, new() { Name = "Row 121" })
                .Or(page.GetByRole(AriaRole.Link, new() { Name = "Row 61", Exact = true })).First.ClickAsync();
            await SeeAsync(page, "held-row-form", phone);
        }
    }

    private async Task<IPage> SignInAsync(IntakeBed bed, Person person, bool phone)
    {
        var page = await chromium.OpenAsync(bed.App.Address, phone);
        page.PageError += (_, error) => Assert.Fail(error);
        await page.GotoAsync("/sign-in");
        await page.FillAsync("#Email", person.Email!);
        await page.FillAsync("#Password", IntakeBed.Password);
        await page.GetByRole(AriaRole.Button, new() { Name = "Sign in" }).ClickAsync();
        await page.ArriveAsync(url => !url.Contains("/sign-in", StringComparison.Ordinal));
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
