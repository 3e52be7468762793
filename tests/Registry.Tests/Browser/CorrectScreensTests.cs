using Microsoft.Playwright;
using Registry.Records;
using Registry.Tests.Intake;

namespace Registry.Tests.Browser;

/// <summary>A name that was misspelled is put right from the record, at desk and phone width.</summary>
public sealed class CorrectScreensTests(TestDatabase database, Chromium chromium)
{
    private const string Rows =
        """
        kind,record_number,birth_date,sex,infant_given_name,infant_family_name,mother_given_name,mother_family_name,mother_birth_date,ear,outcome,method,performed_at
        birth,H-1,2026-11-20,female,Ilze,Marlow,Ada,Marlow,1995-02-03,,,,
        screening,H-1,,,,,,,,right,refer,aabr,2026-11-21T09:15
        screening,H-1,,,,,,,,left,pass,aabr,2026-11-21T09:20

        """;

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public async Task The_name_of_a_birth_is_corrected_from_its_record(bool phone)
    {
        await using var bed = await IntakeBed.StartAsync(database, listen: true);
        await bed.SendAsync(Rows, at: bed.Now.AddDays(-2));
        var infant = (await bed.ListAsync("select id from infants"))[0];
        var person = await bed.AddPersonAsync(Role.Screener, bed.Harbour);
        var page = await SignedIn.OpenAsync(chromium, bed.App, person.Email!, phone: phone);
        await page.SeeAsync($"/infants/{infant}", "record-to-correct");
        Assert.Equal(1, await page.GetByRole(AriaRole.Link, new() { Name = "Correct right ear, 09:15" }).CountAsync());
        await page.GetByRole(AriaRole.Link, new() { Name = "Correct: Birth" }).ClickAsync();
        await page.ArriveAsync("*/enter/birth?corrects=*");
        await page.SeeHereAsync("correct-birth", whole: true);
        var name = page.GetByLabel("Child's given name");
        Assert.Equal("Ilze", await name.InputValueAsync());
        await name.FillAsync("Ilse");
        await page.GetByRole(AriaRole.Button, new() { Name = "Save" }).ClickAsync();
        await page.ArriveAsync($"*/infants/{infant}");
        Assert.Contains("Ilse Marlow", await page.Locator("h1").InnerTextAsync(), StringComparison.Ordinal);
        Assert.Contains("Recorded.", await page.Locator(".banner.done").InnerTextAsync(), StringComparison.Ordinal);
        Assert.Equal(["Ilse", "Ilze"], await bed.ListAsync("select infant_given_name from births order by 1"));
        Assert.Contains("Corrected", await page.Locator(".time-line .superseded").InnerTextAsync(), StringComparison.Ordinal);
    }
}
