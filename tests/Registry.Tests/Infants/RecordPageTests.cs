using Microsoft.Playwright;
using Registry.Infants.Record;
using Registry.Records;
using Registry.Tests.Browser;
using Registry.Tests.Intake;

namespace Registry.Tests.Infants;

/// <summary>What the page of a record begins with, tells and keeps to itself; and the way through the list it was opened from.</summary>
public sealed class RecordPageTests(TestDatabase database, Chromium chromium)
{
    private const string Rows =
        "kind,record_number,birth_date,sex,infant_given_name,infant_family_name,mother_given_name,mother_family_name,language,"
            + "contact_phone,ear,outcome,reason,method,performed_at\n"
            + "birth,H-1,2026-11-01,female,Ilse,Marlow,Ada,Marlow,es,555 0112,,,,,\n"
            + "screening,H-1,,,,,,,,,right,no_valid_result,noise,aabr,2026-11-02T09:00\n"
            + "screening,H-1,,,,,,,,,right,refer,,aabr,2026-11-02T09:20\n"
            + "screening,H-1,,,,,,,,,left,pass,,aabr,2026-11-02T09:25\n"
            + "screening,H-1,,,,,,,,,right,refer,,aabr,2026-11-12T10:00\n"
            + "birth,H-2,2026-11-03,male,,,Ida,Quist,,,,,,,\n"
            + "birth,H-3,2026-11-05,male,,,Oda,Tarn,,,,,,,\n";

    [Fact]
    public async Task Tests_of_one_session_are_one_line_and_those_of_another_day_a_line_of_their_own()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Rows);
        using var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var page = await client.GetStringAsync($"/infants/{await IdAsync(bed, "H-1")}", IntakeBed.Ct);
        Assert.Contains("2 Nov 2026, 09:00 · Screen: right ear no valid result, then refer · left ear pass", Plain(page),
            StringComparison.Ordinal);
        Assert.Contains("12 Nov 2026, 10:00 · Screen: right ear refer", Plain(page), StringComparison.Ordinal);
        Assert.Contains("rows 2, 3 and 4", Plain(page), StringComparison.Ordinal);
        Assert.Contains("Record numbers and cards (1)", Plain(page), StringComparison.Ordinal);
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public async Task A_record_begins_with_what_is_due_the_phone_and_the_call(bool phone)
    {
        await using var bed = await IntakeBed.StartAsync(database, listen: true);
        await bed.SendAsync(Rows);
        var coordinator = await bed.AddPersonAsync(Role.Coordinator);
        var page = await SignedIn.OpenAsync(chromium, bed.App, coordinator.Email!, phone: phone);
        await page.GotoAsync("/infants?sort=born");
        await page.GetByRole(AriaRole.Link, new() { Name = "H-1" }).ClickAsync();
        await page.ArriveAsync("*/infants/*");
        await page.SeeHereAsync("record", whole: true);
        Assert.Equal("Infant's record · Infant Hearing Registry", await page.TitleAsync());
        Assert.Equal("tel:5550112", await page.Locator(".reach a.phone").GetAttributeAsync("href"));
        Assert.Contains("Spanish", await page.Locator(".reach").InnerTextAsync(), StringComparison.Ordinal);
        foreach (var first in new[] { page.Locator(".reach a.phone"), page.Locator(".log > summary") })
        {
            var box = (await first.BoundingBoxAsync())!;
            Assert.InRange(box.Y + box.Height, 0, page.ViewportSize!.Height);
        }

        // On to the next of the list, and back to the list; nothing of it stands in the address.
        Assert.Contains("1 of 3", await page.Locator("[data-steps]").InnerTextAsync(), StringComparison.Ordinal);
        Assert.False(await page.Locator("[data-previous]").IsVisibleAsync());
        await page.Locator("[data-next]").ClickAsync();
        await page.ArriveAsync($"*/infants/{await IdAsync(bed, "H-2")}");
        Assert.Contains("2 of 3", await page.Locator("[data-steps]").InnerTextAsync(), StringComparison.Ordinal);
        await page.Locator("[data-previous]").ClickAsync();
        await page.ArriveAsync($"*/infants/{await IdAsync(bed, "H-1")}");
        await page.Locator("[data-back]").ClickAsync();
        await page.ArriveAsync("*/infants?sort=born");

        // Signing out forgets the list.
        await page.Locator(".signed-in button").ClickAsync();
        await page.ArriveAsync("*/sign-*");
        Assert.Null(await page.EvaluateAsync<string?>("sessionStorage.getItem('registry.list')"));
    }

    [Fact]
    public async Task A_name_stands_in_the_tab_only_where_the_region_says_so()
    {
        await using var bed = await IntakeBed.StartAsync(database, new Dictionary<string, string?> { ["Program:NameInTitle"] = "true" });
        await bed.SendAsync(Rows);
        using var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        Assert.Contains("<title>Ilse Marlow ·", await client.GetStringAsync($"/infants/{await IdAsync(bed, "H-1")}", IntakeBed.Ct),
            StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("2026-11-25", "2026-11-25", "0 days old")]
    [InlineData("2026-11-24", "2026-11-25", "1 day old")]
    [InlineData("2026-08-25", "2026-11-25", "3 months old")]
    [InlineData("2025-11-26", "2026-11-25", "11 months old")]
    [InlineData("2024-11-25", "2026-11-25", "2 years old")]
    public void An_age_is_told_in_what_one_would_say(string born, string day, string age) =>
        Assert.Equal(age, RecordWords.Age(DateOnly.Parse(born, null), DateOnly.Parse(day, null)));

    private static async Task<string> IdAsync(IntakeBed bed, string number) =>
        (await bed.ListAsync($"select infant_id from infant_identifiers where value = '{number}'"))[0];

    private static string Plain(string page) => string.Join(' ', System.Net.WebUtility.HtmlDecode(
        System.Text.RegularExpressions.Regex.Replace(page, "<[^>]+>", "")).Split((char[]?)null, StringSplitOptions.RemoveEmptyEntries));
}
