using Microsoft.Playwright;
using Registry.Records;
using Registry.Tests.FollowUp;
using Registry.Tests.HandOffs;
using Registry.Tests.Intake;
using Registry.Tests.Intake.Typing;

namespace Registry.Tests.Browser;

/// <summary>A day of a screener and of a case worker, at a desk and on a phone.</summary>
public sealed class DaysOfStaffTests(TestDatabase database, Chromium chromium)
{
    /// <summary>The program's today is 2026-11-25, noon.</summary>
    private const string Ward =
        """
        kind,record_number,birth_date,birth_time,sex,mother_given_name,mother_family_name,mother_birth_date,ear,outcome,method,performed_at,instrument,screener
        birth,W-1,2026-11-25,02:10,female,Ada,Marlow,1995-02-03,,,,,,
        birth,W-2,2026-11-23,08:00,male,Bea,Quist,1990-01-02,,,,,,
        birth,W-3,2026-11-23,09:30,male,Cora,Berg,1991-01-02,,,,,,
        birth,W-4,2026-11-23,10:30,male,Dana,Tarn,1992-01-02,,,,,,
        screening,W-2,,,,,,,right,refer,aabr,2026-11-24T09:00,UNIT-7,Screener
        screening,W-2,,,,,,,left,refer,aabr,2026-11-24T09:05,UNIT-7,Screener

        """;

    [Theory]
    [InlineData(false), InlineData(true)]
    public async Task A_screener_screens_the_ward_with_and_without_a_connection(bool phone)
    {
        await using var bed = await IntakeBed.StartAsync(database, listen: true);
        await bed.SendAsync(Ward);
        var ward = await WardPhone.OpenAsync(chromium, bed, await bed.AddPersonAsync(Role.Screener, bed.Harbour), phone);
        var page = ward.Page;

        // Who is too young to be tested is said before anybody tries.
        Assert.Contains("Better later: ABR after Wed 14:10, OAE after Thu 02:10", await ward.Row("Marlow").InnerTextAsync(),
            StringComparison.Ordinal);

        // A pass of both ears leaves the list.
        await ward.EnterAsync("Berg", "Pass", "Pass");
        await ward.SaysAsync("Sent: Berg, Cora.");
        Assert.Equal(0, await ward.Row("Berg").CountAsync());

        // An ear without a result: the reason is asked for there, and wanted.
        await ward.Row("Tarn").GetByRole(AriaRole.Link, new() { Name = "Enter" }).ClickAsync();
        await ward.Ear("Right ear").GetByLabel("No valid result").ClickAsync();
        await ward.Ear("Left ear").GetByLabel("Pass", new() { Exact = true }).ClickAsync();
        await page.SeeHereAsync("ward-entry");
        await page.Locator("dialog").GetByRole(AriaRole.Button, new() { Name = "Save" }).ClickAsync();
        Assert.True(await page.EvaluateAsync<bool>("document.querySelector('dialog').open"));
        await ward.Ear("Right ear").Locator("select").SelectOptionAsync("no_seal");
        await page.Locator("dialog").GetByRole(AriaRole.Button, new() { Name = "Save" }).ClickAsync();
        await ward.SaysAsync("Sent: Tarn, Dana.");
        Assert.Contains("Incomplete", await ward.Row("Tarn").InnerTextAsync(), StringComparison.Ordinal);

        // The lift: what is entered there waits, and is sent when the connection is back.
        await ward.LoseConnectionAsync();
        await ward.EnterAsync("Marlow", "Pass", "Refer");
        await ward.SaysAsync("Waits on this phone, not sent yet: 1");
        await ward.ConnectAsync();
        await ward.SaysAsync("Sent: Marlow, Ada.");

        // Before the family goes home the rescreen is booked.
        await ward.Row("Quist").GetByRole(AriaRole.Link, new() { Name = "Book the rescreen" }).ClickAsync();
        await page.ArriveAsync("*/book");
        await page.Locator("#on").FillAsync("2026-12-02");
        await page.Locator("main").GetByRole(AriaRole.Button, new() { Name = "Book", Exact = true }).ClickAsync();
        await page.ArriveAsync("*/ward");
        Assert.Equal(["2026-12-02"], await bed.ListAsync("select appointment_on::text from appointments where superseded_at is null"));
        Assert.Equal(["right no_valid_result no_seal", "left pass"], await ward.ResultsAsync("W-4"));
        Assert.Equal(["right pass", "left refer"], await ward.ResultsAsync("W-1"));
    }

    [Theory]
    [InlineData(false), InlineData(true)]
    public async Task A_case_worker_takes_calls_puts_off_books_hands_on_and_corrects(bool phone)
    {
        await using var beds = await HandOffBed.StartAsync(database, listen: true);
        var bed = beds.Bed;
        var worker = await bed.AddPersonAsync(Role.CaseWorker, null, "Lind");
        var page = await SignedIn.OpenAsync(chromium, bed.App, worker.Email!, phone: phone);
        await page.GotoAsync("/follow-up");
        await HeadsAsync(page, "Ada Quist");

        // Taken; nobody answers, and that was a slip: undone, and what was true is written down.
        await page.Locator("tbody th a").First.ClickAsync();
        await page.ArriveAsync("*infant=*");
        await page.GetByRole(AriaRole.Button, new() { Name = "Take it" }).ClickAsync();
        await Eventually.HoldsAsync(async () => await page.Locator("#call").GetByText("Assigned to CaseWorker").CountAsync() == 1);
        await CallAsync(page, "No response", "Ada Berg");
        await page.Locator("form.undo button").ClickAsync();
        await PanelAsync(page, "Ada Quist");
        await page.GetByLabel("Appointment made").CheckAsync();
        await page.Locator("#call input[name=AppointmentOn]").FillAsync("2026-12-03");
        await page.Locator("#call select[name=AppointmentSite]").SelectOptionAsync("cove");
        await page.GetByRole(AriaRole.Button, new() { Name = "Save and open the next" }).ClickAsync();
        await PanelAsync(page, "Ada Berg");

        // The next is away for a week.
        await page.GetByText("Put off without a call").ClickAsync();
        await page.Locator("#call input[name=until]").FillAsync("2026-12-01");
        await page.Locator("#call select[name=reason]").SelectOptionAsync("FamilyAway");
        await page.GetByRole(AriaRole.Button, new() { Name = "Put off", Exact = true }).ClickAsync();
        await HeadsAsync(page, "Ada Marlow");

        // And one is handed to the clinic.
        await page.Locator("tbody th a").First.ClickAsync();
        await PanelAsync(page, "Ada Marlow");
        await page.Locator("#call").GetByRole(AriaRole.Link, new() { Name = "Hand off" }).ClickAsync();
        await page.ArriveAsync("*/hand-offs");
        await page.Locator("#kind").SelectOptionAsync("clinic");
        await page.Locator("#site").SelectOptionAsync("cove");
        await page.Locator("#step").SelectOptionAsync("diagnosis");
        await page.GetByRole(AriaRole.Button, new() { Name = "Hand off" }).ClickAsync();
        await Eventually.HoldsAsync(async () => await page.GetByText("Handed off.").CountAsync() > 0);

        Assert.Equal(["case_worker sent"], await bed.ListAsync("select sent_as || ' ' || state from hand_offs"));
        Assert.Equal(["appointment_made", "no_response taken back"], await bed.ListAsync(
            "select outcome || case when superseded_at is null then '' else ' taken back' end from contacts order by 1"));
        Assert.Equal(["family_away"], await bed.ListAsync("select reason from work_put_off"));
        Assert.Equal("appointment_booked", await WorkBed.TrayAsync(bed, await WorkBed.IdAsync(bed, "W-2")));
    }

    private static async Task CallAsync(IPage page, string outcome, string next)
    {
        await page.GetByLabel(outcome).CheckAsync();
        await page.GetByRole(AriaRole.Button, new() { Name = "Save and open the next" }).ClickAsync();
        await PanelAsync(page, next);
    }

    private static Task PanelAsync(IPage page, string name) => Eventually.HoldsAsync(async () =>
        await page.Locator("#call-name", new() { HasText = name }).CountAsync() == 1);

    private static Task HeadsAsync(IPage page, string name) => Eventually.HoldsAsync(async () =>
        await page.Locator("tbody th a").CountAsync() > 0 && await page.Locator("tbody th a").First.InnerTextAsync() == name);
}
