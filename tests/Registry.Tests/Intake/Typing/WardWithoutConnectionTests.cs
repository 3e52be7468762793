using Microsoft.Playwright;
using Registry.Records;
using Registry.Tests.Browser;

namespace Registry.Tests.Intake.Typing;

/// <summary>The ward list without a connection: nothing entered is lost, nothing is sent twice, and the phone tells nobody else.</summary>
public sealed class WardWithoutConnectionTests(TestDatabase database, Chromium chromium)
{
    /// <summary>The program's today is 2026-11-25, noon.</summary>
    private const string Rows =
        """
        kind,record_number,birth_date,birth_time,sex,mother_given_name,mother_family_name,mother_birth_date
        birth,W-1,2026-11-23,02:10,female,Ada,Marlow,1995-02-03
        birth,W-2,2026-11-23,08:00,male,Bea,Quist,1990-01-02
        birth,W-3,2026-11-23,09:30,male,Cora,Berg,1991-01-02

        """;

    private static readonly string[] PassRefer = ["right pass", "left refer"];

    [Fact]
    public async Task What_is_entered_waits_survives_a_reload_and_is_sent_once()
    {
        await using var bed = await StartAsync();
        var phone = await WardPhone.OpenAsync(chromium, bed, await ScreenerAsync(bed));
        await phone.LoseConnectionAsync();
        await phone.EnterAsync("Berg", "Pass", "Refer");
        await phone.SaysAsync("Waits on this phone, not sent yet: 1");
        await phone.Page.SeeHereAsync("ward-waiting", whole: true);

        // A reload: the list and the entry come from the phone, and another one is made there.
        await phone.Page.ReloadAsync();
        await phone.SaysAsync("No connection.");
        await phone.SaysAsync("Waits on this phone, not sent yet: 1");
        await phone.EnterAsync("Quist", "Pass", "Pass");
        await phone.SaysAsync("Waits on this phone, not sent yet: 2");
        await phone.Page.SeeHereAsync("ward-offline", whole: true);
        Assert.Empty(await phone.ResultsAsync("W-3"));

        // What lies on the phone says nothing to who reads it there.
        var stored = await phone.StoredAsync();
        foreach (var word in new[] { "Berg", "Quist", "Marlow", "W-3", "2026-11-2", "UNIT-7" })
            Assert.DoesNotContain(word, stored, StringComparison.Ordinal);
        Assert.Equal(["not readable"], await phone.KeysAsync());

        await phone.ConnectAsync();
        await phone.SaysAsync("Sent: Quist, Bea.");
        await phone.SaysAsync("Sent: Berg, Cora.");
        await phone.IsReadyAsync();
        await phone.Page.ReloadAsync();
        await phone.IsReadyAsync();
        Assert.Equal("", await phone.Page.Locator("[data-kept]").InnerTextAsync());
        Assert.Equal(PassRefer, await phone.ResultsAsync("W-3"));
        Assert.Equal(["right pass", "left pass"], await phone.ResultsAsync("W-2"));
        Assert.Equal(["2"], await bed.ListAsync("select count(*) from submissions where format = 'typed'"));
    }

    [Fact]
    public async Task What_is_refused_is_shown_with_its_reason_and_corrected()
    {
        await using var bed = await StartAsync();
        var phone = await WardPhone.OpenAsync(chromium, bed, await ScreenerAsync(bed));
        await phone.LoseConnectionAsync();
        await phone.EnterAsync("Berg", "Pass", "Refer", day: "2026-11-20");
        await phone.ConnectAsync();
        await phone.SaysAsync("Not recorded, to be corrected: 1");
        await phone.SaysAsync("Right ear: Performed at: is before “Birth date”");
        await phone.Page.SeeHereAsync("ward-refused", whole: true);

        // It is still there after a reload, and corrected in the form with everything that was entered.
        await phone.Page.ReloadAsync();
        await phone.SaysAsync("Right ear: Performed at: is before “Birth date”");
        await phone.Page.GetByRole(AriaRole.Button, new() { Name = "Correct" }).ClickAsync();
        Assert.True(await phone.Ear("Left ear").GetByLabel("Refer").IsCheckedAsync());
        await phone.Page.Locator("dialog #typed-day").FillAsync("2026-11-24");
        await phone.Page.Locator("dialog").GetByRole(AriaRole.Button, new() { Name = "Save" }).ClickAsync();
        await phone.SaysAsync("Sent: Berg, Cora.");
        Assert.Equal(PassRefer, await phone.ResultsAsync("W-3"));
    }

    /// <summary>What came another way while the entry waited is said, before anything is done.</summary>
    [Fact]
    public async Task What_is_recorded_already_is_said_and_not_recorded_twice()
    {
        await using var bed = await StartAsync();
        var phone = await WardPhone.OpenAsync(chromium, bed, await ScreenerAsync(bed));
        await phone.LoseConnectionAsync();
        await phone.EnterAsync("Berg", "Pass", "Refer", day: "2026-11-24", time: "09:30");
        await bed.SendAsync("kind,record_number,ear,outcome,method,performed_at,instrument,screener\n"
            + "screening,W-3,right,pass,aabr,2026-11-24T09:30,UNIT-7,Screener\n"
            + "screening,W-3,left,refer,aabr,2026-11-24T09:30,UNIT-7,Screener\n");
        await phone.ConnectAsync();
        await phone.SaysAsync("Not recorded yet, look at this first: 1");
        await phone.SaysAsync("The same is recorded already: it would change nothing.");
        await phone.Page.SeeHereAsync("ward-look-first", whole: true);
        phone.Page.Dialog += async (_, dialog) => await dialog.AcceptAsync();
        await phone.Page.GetByRole(AriaRole.Button, new() { Name = "Remove" }).ClickAsync();
        await Eventually.HoldsAsync(async () => await phone.Page.Locator("[data-kept]").InnerTextAsync() == "");
        Assert.Equal(PassRefer, await phone.ResultsAsync("W-3"));
        Assert.Equal(["0"], await bed.ListAsync("select count(*) from submissions where format = 'typed'"));
    }

    [Fact]
    public async Task An_ended_sign_in_sends_nothing_and_another_person_on_the_same_phone_reads_nothing()
    {
        await using var bed = await StartAsync();
        var (first, second) = (await ScreenerAsync(bed), await ScreenerAsync(bed));
        var phone = await WardPhone.OpenAsync(chromium, bed, first);
        await phone.LoseConnectionAsync();
        await phone.EnterAsync("Berg", "Pass", "Refer");
        await phone.SaysAsync("Waits on this phone, not sent yet: 1");
        await EndSessionsAsync(bed);
        await phone.ConnectAsync();
        await phone.SaysAsync("Your sign-in has ended. 1 result waits on this phone, not sent yet, locked");
        Assert.Empty(await phone.KeysAsync());
        Assert.DoesNotContain("Berg", await phone.Page.Locator("body").InnerTextAsync(), StringComparison.Ordinal);
        Assert.Empty(await phone.ResultsAsync("W-3"));

        // Somebody else signs in on it: told that something waits, and no more; nothing of it goes out under their name.
        await SignInAsync(phone.Page, second);
        await phone.IsReadyAsync();
        await phone.SaysAsync("Results of another person wait on this phone, locked: 1.");
        Assert.DoesNotContain("Berg", await phone.Page.Locator("[data-kept]").InnerTextAsync(), StringComparison.Ordinal);
        Assert.Empty(await phone.ResultsAsync("W-3"));

        // And the one who entered it: it is theirs again, and sent.
        await EndSessionsAsync(bed);
        await phone.Page.GotoAsync("/ward");
        await SignInAsync(phone.Page, first);
        await phone.SaysAsync("Sent: Berg, Cora.");
        Assert.Equal(PassRefer, await phone.ResultsAsync("W-3"));
        Assert.Equal([first.Id.ToString()], await bed.ListAsync("select distinct person_id from submissions where format = 'typed'"));
    }

    [Theory]
    [InlineData("async (entries, put) => { const e = entries[0]; new Uint8Array(e.data)[7] ^= 1; await put(e); }")]
    [InlineData("async ([a, b], put) => { await put({ ...a, data: b.data, iv: b.iv }); await put({ ...b, data: a.data, iv: a.iv }); }")]
    [InlineData("async (entries, put) => { for (const e of entries) await put({ ...e, id: crypto.randomUUID() }); }")]
    public async Task An_entry_altered_on_the_phone_is_not_sent(string act)
    {
        await using var bed = await StartAsync();
        var phone = await WardPhone.OpenAsync(chromium, bed, await ScreenerAsync(bed));
        await phone.LoseConnectionAsync();
        await phone.EnterAsync("Berg", "Pass", "Refer");
        await phone.EnterAsync("Quist", "Pass", "Refer");
        await phone.SaysAsync("not sent yet: 2");
        await phone.TamperAsync(act);
        await phone.Page.ReloadAsync();
        await phone.SaysAsync("Kept on this phone, but altered or unreadable");
        await phone.ConnectAsync();
        await phone.IsReadyAsync();
        await phone.SaysAsync("Not sent; enter it again.");
        Assert.Empty(await phone.ResultsAsync("W-3"));
    }

    [Fact]
    public async Task Signing_out_asks_first_and_then_clears_the_phone()
    {
        await using var bed = await StartAsync();
        var phone = await WardPhone.OpenAsync(chromium, bed, await ScreenerAsync(bed));
        await phone.LoseConnectionAsync();
        await phone.EnterAsync("Berg", "Pass", "Refer");
        await phone.SaysAsync("not sent yet: 1");
        var (asked, answer) = ("", false);
        phone.Page.Dialog += async (_, dialog) =>
        {
            asked = dialog.Message;
            await (answer ? dialog.AcceptAsync() : dialog.DismissAsync());
        };
        await phone.Page.GetByRole(AriaRole.Button, new() { Name = "Sign out" }).ClickAsync();
        await Eventually.HoldsAsync(() => asked == "Results on this phone are not sent yet: 1. Signing out deletes them.");
        await phone.SaysAsync("not sent yet: 1");

        // The connection is back for the signing out alone.
        answer = true;
        await phone.Page.Context.RouteAsync("**/screen", route => route.AbortAsync());
        await phone.ConnectAsync();
        await phone.Page.GetByRole(AriaRole.Button, new() { Name = "Sign out" }).ClickAsync();
        await phone.Page.ArriveAsync("*/sign-out");
        Assert.Equal("0 0", await phone.Page.EvaluateAsync<string>(
            "async () => `${(await indexedDB.databases()).length} ${(await caches.keys()).length}`"));
        Assert.Empty(await phone.ResultsAsync("W-3"));
    }

    private async Task<IntakeBed> StartAsync()
    {
        var bed = await IntakeBed.StartAsync(database, listen: true);
        await bed.SendAsync(Rows);
        // How they test is remembered from here on.
        await bed.SendAsync("kind,record_number,ear,outcome,method,performed_at,instrument,screener\n"
            + "screening,W-1,right,refer,aabr,2026-11-24T09:00,UNIT-7,Screener\n");
        return bed;
    }

    private static Task<Person> ScreenerAsync(IntakeBed bed) => bed.AddPersonAsync(Role.Screener, bed.Harbour);

    private static Task<List<string>> EndSessionsAsync(IntakeBed bed) =>
        bed.ListAsync("update sessions set ended_at = now() where ended_at is null returning id");

    private static async Task SignInAsync(IPage page, Person person)
    {
        await page.GotoAsync("/sign-in?returnTo=%2Fward");
        await page.Locator("#sign-in input[type=email]").FillAsync(person.Email!);
        await page.Locator("#sign-in input[type=password]").FillAsync(IntakeBed.Password);
        await page.Locator("#sign-in button[type=submit]").ClickAsync();
        await page.ArriveAsync("*/ward");
    }
}
