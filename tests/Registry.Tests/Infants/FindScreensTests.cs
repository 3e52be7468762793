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
        await page.Keyboard.PressAsync("Enter");
        await page.ArriveAsync("*/infants/*");
        // A slash that is typed stays a slash.
        await page.Locator("[data-find]").FocusAsync();
        await page.Keyboard.TypeAsync("11/01");
        Assert.Equal("11/01", await page.Locator("[data-find]").InputValueAsync());
    }
}
