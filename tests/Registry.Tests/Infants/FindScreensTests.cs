using Microsoft.Playwright;
using Registry.Records;
using Registry.Tests.Browser;
using Registry.Tests.Intake;

namespace Registry.Tests.Infants;

/// <summary>Finding an infant by keyboard, at both widths.</summary>
public sealed class FindScreensTests(TestDatabase database, Chromium chromium)
{
    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public async Task A_slash_a_name_and_two_returns_open_a_record(bool phone)
    {
        await using var bed = await IntakeBed.StartAsync(database, listen: true);
        await bed.SendAsync("kind,record_number,birth_date,sex,infant_given_name,mother_given_name,mother_family_name,mother_birth_date\n"
            + "birth,H-1,2026-11-01,female,Ilse,Ada,Marlow,1995-02-03\nbirth,H-2,2026-10-01,male,,Ida,Marlowe,1991-02-03\n");
        var coordinator = await bed.AddPersonAsync(Role.Coordinator);
        var page = await SignedIn.OpenAsync(chromium, bed.App, coordinator.Email!, phone: phone);
        await page.GotoAsync("/policy");
        await page.Keyboard.PressAsync("/");
        await page.Keyboard.TypeAsync("Malrow 11/01/2026");
        await page.Keyboard.PressAsync("Enter");
        await page.Locator(".found").WaitForAsync();
        Assert.EndsWith("/find", page.Url, StringComparison.Ordinal);
        Assert.Equal("Malrow 11/01/2026", await page.Locator("[data-find]").InputValueAsync());
        var marked = await page.Locator(".found mark").AllInnerTextsAsync();
        Assert.Contains("Marlow", marked);
        Assert.Contains("1 Nov 2026", marked);
        await page.SeeHereAsync("find", whole: true);

        // The first hit has the focus, and its frame (3 pixels, 2 outside) touches nothing.
        var hit = (await page.Locator(".found a").First.BoundingBoxAsync())!;
        Assert.True((await page.Locator(".found p").First.BoundingBoxAsync())!.Y >= hit.Y + hit.Height + 5);
        await page.Keyboard.PressAsync("Enter");
        await page.ArriveAsync("*/infants/*");
        // A slash that is typed stays a slash.
        await page.Locator("[data-find]").FocusAsync();
        await page.Keyboard.TypeAsync("11/01");
        Assert.Equal("11/01", await page.Locator("[data-find]").InputValueAsync());
        await page.Locator("[data-find]").FillAsync("Zwick 1999-12-31");
        await page.Keyboard.PressAsync("Enter");
        await page.Locator(".empty").WaitForAsync();
        await page.SeeHereAsync("find-nothing", whole: true);

        // What is not found may be entered; what is found has more to be entered about it.
        await page.GotoAsync("/infants/new");
        await page.SeeHereAsync("birth-form", whole: true);
        var id = (await bed.ListAsync("select infant_id from infant_identifiers where value = 'H-1'"))[0];
        await page.GotoAsync($"/infants/{id}");
        await page.Locator(".menu summary").ClickAsync();
        await page.SeeHereAsync("infant-enter");
        await page.GetByRole(AriaRole.Link, new() { Name = "Diagnostic evaluation" }).ClickAsync();
        await page.Locator("#typed").WaitForAsync();
        await page.SeeHereAsync("enter-form", whole: true);
    }

    [Fact]
    public async Task A_case_worker_is_told_whose_infants_are_searched()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await SignedIn.AsAsync(bed, Role.CaseWorker, null, "Lind");
        Assert.Contains("assigned to you and those of Lind", await client.GetStringAsync("/find", IntakeBed.Ct), StringComparison.Ordinal);
    }
}
