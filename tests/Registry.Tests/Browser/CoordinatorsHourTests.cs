using Microsoft.Playwright;
using Registry.Records;
using Registry.Tests.FollowUp;

namespace Registry.Tests.Browser;

/// <summary>A coordinator's hour with the work list, at a desk and on a phone: open, call, book, put off, undo, take, filter.</summary>
public sealed class CoordinatorsHourTests(TestDatabase database, Chromium chromium)
{
    [Theory]
    [InlineData(false), InlineData(true)]
    public async Task A_coordinator_works_through_the_list(bool phone)
    {
        await using var bed = await WorkBed.StartAsync(database, listen: true);
        var coordinator = await bed.AddPersonAsync(Role.Coordinator);
        var page = await SignedIn.OpenAsync(chromium, bed.App, coordinator.Email!, phone: phone);
        await page.GotoAsync("/follow-up");
        await page.SeeHereAsync("work-list");
        await FirstAsync(page, "Ada Quist");

        // The first: nobody answers. Nothing is chosen beforehand, and saving opens the next.
        await page.Locator("tbody th a").First.ClickAsync();
        await page.ArriveAsync("*infant=*");
        await page.SeeHereAsync("work-panel");
        Assert.Equal(0, await page.Locator("#call input[name=Outcome]:checked").CountAsync());
        Assert.False(await page.Locator("#call .booking").IsVisibleAsync());
        await page.GetByLabel("No response").CheckAsync();
        await page.Locator("#call textarea[name=Note]").FillAsync("Rings, nobody answers");
        await SaveAsync(page, "Ada Berg");
        await FirstAsync(page, "Ada Berg");

        // The second: an appointment.
        await page.GetByLabel("Appointment made").CheckAsync();
        await page.Locator("#call input[name=AppointmentOn]").FillAsync("2026-12-03");
        await page.Locator("#call input[name=AppointmentTime]").FillAsync("10:30");
        await page.Locator("#call select[name=AppointmentSite]").SelectOptionAsync("hill");
        await page.Locator("#call select[name=Person]").SelectOptionAsync("Mother");
        await SaveAsync(page, "Ada Marlow");
        await FirstAsync(page, "Ada Marlow");

        // A slip: it is undone, and the infant stands where it stood.
        await page.GetByLabel("Unable to contact").CheckAsync();
        await SaveAsync(page, "Ada Tarn");
        await page.Locator("form.undo button").ClickAsync();
        await HeadingAsync(page, "Ada Marlow");
        await FirstAsync(page, "Ada Marlow");

        // Taken, and put off.
        await page.GetByRole(AriaRole.Button, new() { Name = "Take it" }).ClickAsync();
        await Eventually.HoldsAsync(async () => await page.Locator("#call").GetByText("Assigned to Coordinator").CountAsync() == 1);
        await page.GetByText("Put off without a call").ClickAsync();
        await page.Locator("#call input[name=until]").FillAsync("2026-12-01");
        await page.Locator("#call select[name=reason]").SelectOptionAsync("FamilyAway");
        await page.GetByRole(AriaRole.Button, new() { Name = "Put off", Exact = true }).ClickAsync();
        await FirstAsync(page, "Ada Tarn");

        foreach (var (tray, count) in new[]
        {
            ("Call today", 1), ("Waiting for a call back", 2), ("Appointment booked", 1), ("Waiting for a result", 0),
            ("Lost to follow-up: search again", 1), ("Monitoring", 0),
        }) Assert.Equal($"{tray} {count}", Flat(await page.Locator(".trays a", new() { HasText = tray }).InnerTextAsync()));
        await page.Locator(".trays a", new() { HasText = "Appointment booked" }).ClickAsync();
        await page.ArriveAsync("*tray=appointment_booked*");
        await FirstAsync(page, "Ada Berg");
        Assert.Contains("appointment on 3 Dec 2026", await page.Locator("tbody tr").First.InnerTextAsync(), StringComparison.Ordinal);
        Assert.Equal(["appointment_made mother 10:30:00", "no_response  ", "unable_to_contact  "], await bed.ListAsync(
            "select c.outcome || ' ' || coalesce(c.person, '') || ' ' || coalesce(a.appointment_time::text, '') from contacts c "
                + "left join appointments a on a.form_key = c.form_key order by 1"));
    }

    private static async Task SaveAsync(IPage page, string next)
    {
        await page.GetByRole(AriaRole.Button, new() { Name = "Save and open the next" }).ClickAsync();
        await HeadingAsync(page, next);
    }

    private static Task HeadingAsync(IPage page, string name) => Eventually.HoldsAsync(async () =>
        await page.Locator("#call-name", new() { HasText = name }).CountAsync() == 1);

    private static Task FirstAsync(IPage page, string name) => Eventually.HoldsAsync(async () =>
        await page.Locator("tbody th a").CountAsync() > 0 && await page.Locator("tbody th a").First.InnerTextAsync() == name);

    private static string Flat(string text) => string.Join(' ', text.Split(default(char[]), StringSplitOptions.RemoveEmptyEntries));
}
