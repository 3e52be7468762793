using System.Diagnostics;
using System.Text.RegularExpressions;
using Microsoft.Playwright;
using Registry.Records;
using Registry.Tests.Browser;

namespace Registry.Tests.Intake.Typing;

/// <summary>The ward list, as a screener with a phone uses it.</summary>
public sealed partial class WardTests(TestDatabase database, Chromium chromium)
{
    /// <summary>The program's today is 2026-11-25, noon.</summary>
    private const string Rows =
        """
        kind,record_number,birth_date,birth_time,discharged_on,sex,infant_given_name,mother_given_name,mother_family_name,mother_birth_date,ear,outcome,method,performed_at,instrument,screener
        birth,W-1,2026-11-25,02:10,,female,Ilse,Ada,Marlow,1995-02-03,,,,,,
        birth,W-2,2026-11-23,08:00,,male,,Bea,Quist,1990-01-02,,,,,,
        screening,W-2,,,,,,,,,right,refer,aabr,2026-11-24T09:00,UNIT-7,Screener
        screening,W-2,,,,,,,,,left,pass,aabr,2026-11-24T09:05,UNIT-7,Screener
        birth,W-3,2026-11-20,09:30,2026-11-22,male,,Cora,Berg,1991-01-02,,,,,,
        birth,W-4,2026-11-20,10:00,2026-11-22,female,,Dana,Passed,1992-01-02,,,,,,
        screening,W-4,,,,,,,,,right,pass,aabr,2026-11-21T09:00,UNIT-7,Screener
        screening,W-4,,,,,,,,,left,pass,aabr,2026-11-21T09:05,UNIT-7,Screener
        birth,W-5,2024-11-20,10:00,,female,,Edith,Long-Ago,1992-01-02,,,,,,

        """;

    [Fact]
    public async Task A_result_is_entered_in_four_taps()
    {
        await using var bed = await IntakeBed.StartAsync(database, listen: true);
        await bed.SendAsync(Rows);
        await bed.SendAsync("kind,record_number,birth_date,sex,mother_family_name\nbirth,X-1,2026-11-24,female,Elsewhere\n",
            await bed.AddSiteAsync("elsewhere", SiteKind.Hospital));
        var screener = await bed.AddPersonAsync(Role.Screener, bed.Harbour);
        var phone = await WardPhone.OpenAsync(chromium, bed, screener);
        var page = phone.Page;

        // Home is the ward list: who is due, those who lie here first; who passed, is two years old or lies elsewhere is not on it.
        Assert.EndsWith("/ward", page.Url, StringComparison.Ordinal);
        Assert.Equal(["Quist, Bea", "Marlow, Ada", "Berg, Cora"], await page.Locator(".ward li > div > a strong").AllInnerTextsAsync());
        var youngest = page.Locator(".ward li", new() { HasText = "Marlow" });
        Assert.Contains("9 hours old", await youngest.InnerTextAsync(), StringComparison.Ordinal);
        Assert.Contains("ABR after Wed 14:10, OAE after Thu 02:10", await youngest.InnerTextAsync(), StringComparison.Ordinal);
        await page.SeeHereAsync("ward", whole: true);

        var clock = Stopwatch.StartNew();
        var before = phone.Taps;
        await phone.EnterAsync("Berg", "Pass", "Refer");
        await phone.SaysAsync("Sent: Berg, Cora.");
        TestContext.Current.SendDiagnosticMessage($"{phone.Taps - before} taps, {clock.Elapsed.TotalSeconds:0.0} s");
        Assert.InRange(phone.Taps - before, 1, 5);
        Assert.Equal(["left refer aabr UNIT-7", "right pass aabr UNIT-7"], await bed.ListAsync(
            "select concat_ws(' ', ear, outcome, method, instrument) from screenings s join infant_identifiers i using (infant_id) "
                + "where i.value = 'W-3' order by ear"));

        // A complete screen of a discharged infant is the follow-up list's from now on; what was entered is one link away, to be undone.
        Assert.Equal(0, await phone.Row("Berg").CountAsync());
        await page.GetByRole(AriaRole.Link, new() { Name = "See what became of it, or undo" }).ClickAsync();
        await page.ArriveAsync("*/entered/*");
        await page.GetByRole(AriaRole.Button, new() { Name = "Undo" }).ClickAsync();
        await Eventually.HoldsAsync(async () => await page.GetByText("Taken back.").CountAsync() > 0);
    }

    /// <summary>Who lies there is on it whatever its age, and where it was taken to; of those discharged, the latest month.</summary>
    [Fact]
    public async Task Who_lies_there_is_on_the_list_however_old_and_wherever_from_and_a_cut_is_said()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var elsewhere = await bed.AddSiteAsync("elsewhere", SiteKind.Hospital);
        const string Header = "kind,record_number,birth_date,sex,mother_family_name,nicu_admitted_on,discharged_on,to_site,transferred_on\n";
        await bed.SendAsync(Header
            + "birth,N-1,2026-09-20,female,Nicu,2026-09-20,,,\nbirth,D-1,2026-10-20,male,Gone,,2026-10-22,,\n"
            + "birth,D-2,2026-11-10,male,Lately,,2026-11-12,,\nbirth,T-2,2026-11-20,female,Sent,,2026-11-20,,\n"
            + "transfer,T-2,,,,,,elsewhere,2026-11-20\n");
        await bed.SendAsync(Header
            + "birth,T-1,2026-10-10,female,Taken,2026-10-10,2026-10-11,,\ntransfer,T-1,,,,,,harbour,2026-10-11\n"
            + "birth,X-1,2026-11-24,female,Foreign,,,,\n", elsewhere);
        Assert.Equal(["Nicu", "Taken", "Lately"], await ShownAsync(bed.Harbour));
        Assert.Equal(["Sent", "Foreign"], await ShownAsync(elsewhere));

        string[] parts = ["Bram", "Cost", "Dorn", "Felt", "Gund", "Holm", "Jask", "Kirn", "Lupo", "Mewe"];
        await bed.SendAsync(Header + string.Concat(Enumerable.Range(0, 200).Select(i => $"birth,M-{i},"
            + $"{new DateOnly(2026, 8, 1).AddDays(i % 100):yyyy-MM-dd},male,{parts[(i + (i / 100 * 5)) % 10]}{parts[i / 20]},,,,\n")));
        using var screener = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        var page = await screener.GetStringAsync("/ward", IntakeBed.Ct);
        Assert.Contains("More than 200 infants to screen: the first 200 are shown", page, StringComparison.Ordinal);
        Assert.DoesNotContain("Lately", page, StringComparison.Ordinal);

        async Task<string[]> ShownAsync(SiteId site)
        {
            using var client = await SignedIn.AsAsync(bed, Role.Screener, site);
            return [.. Shown().Matches(await client.GetStringAsync("/ward", IntakeBed.Ct)).Select(m => m.Groups[1].Value)];
        }
    }

    [GeneratedRegex("<li data-infant=\"[^\"]+\" data-called=\"(\\w+)")]
    private static partial Regex Shown();

    /// <summary>A reason is asked for only where there is no result, and what to check first stands beside it.</summary>
    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public async Task A_reason_is_asked_for_when_it_is_needed(bool phone)
    {
        await using var bed = await IntakeBed.StartAsync(database, listen: true);
        await bed.SendAsync(Rows);
        var screener = await bed.AddPersonAsync(Role.Screener, bed.Harbour);
        var page = await SignedIn.OpenAsync(chromium, bed.App, screener.Email!, phone: phone);
        var id = (await bed.ListAsync("select infant_id from infant_identifiers where value = 'W-2'"))[0];
        await page.GotoAsync($"/infants/{id}/screen");
        var right = page.Locator("fieldset").Filter(new() { HasText = "Right ear" });
        Assert.False(await right.Locator("select").IsVisibleAsync());
        await right.GetByLabel("No valid result").ClickAsync();
        Assert.True(await right.Locator("select").IsVisibleAsync());
        Assert.Contains("Check first", await right.InnerTextAsync(), StringComparison.Ordinal);
        await page.SeeHereAsync("screen-form", whole: true);
        await right.Locator("select").SelectOptionAsync("no_seal");
        await page.GetByRole(AriaRole.Button, new() { Name = "Save" }).ClickAsync();
        await page.Locator(".outcomes").WaitForAsync();
        Assert.Equal(["no_seal"], await bed.ListAsync("select reason from screenings where reason <> 'none'"));
        await page.SeeHereAsync("entered", whole: true);
    }
}
