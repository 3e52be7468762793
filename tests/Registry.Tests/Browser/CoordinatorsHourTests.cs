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

    /// <summary>A mother on the line is found, work is given out and kept as a view, and a family that cannot be reached is closed, which
    /// turns out to have been early.</summary>
    [Theory]
    [InlineData(false), InlineData(true)]
    public async Task A_coordinator_finds_gives_out_keeps_a_view_and_closes(bool phone)
    {
        await using var bed = await WorkBed.StartAsync(database, listen: true);
        var coordinator = await bed.AddPersonAsync(Role.Coordinator);
        var worker = await bed.AddPersonAsync(Role.CaseWorker, null, "Lind");
        var page = await SignedIn.OpenAsync(chromium, bed.App, coordinator.Email!, phone: phone);

        // By the mother's name, written as one hears it, from any page by a key.
        await page.GotoAsync("/follow-up");
        await page.Keyboard.PressAsync("/");
        await page.Keyboard.TypeAsync("quisst ada");
        await page.Keyboard.PressAsync("Enter");
        await page.ArriveAsync("*/find*");
        await page.GetByRole(AriaRole.List, new() { Name = "Infants found" }).GetByRole(AriaRole.Link).First.ClickAsync();
        await page.ArriveAsync($"*/infants/{await WorkBed.IdAsync(bed, "W-2")}*");

        // Two are given to a case worker, and stand in a view that the office shares.
        await page.GotoAsync("/follow-up");
        foreach (var mother in new[] { "Berg", "Marlow" })
            await page.Locator("tbody tr", new() { HasText = mother }).GetByRole(AriaRole.Checkbox).CheckAsync();
        await page.Locator("#worker").SelectOptionAsync(worker.Id.ToString());
        await page.GetByRole(AriaRole.Button, new() { Name = "Assign", Exact = true }).ClickAsync();
        await SaysAsync(page, "2 infants are assigned to CaseWorker");
        await page.GotoAsync("/follow-up?language=es");
        await page.Locator("#view-name").FillAsync("Spanish");
        await page.GetByLabel("Share with my office").CheckAsync();
        await page.Locator("form:has(#view-name)").GetByRole(AriaRole.Button, new() { Name = "Save" }).ClickAsync();
        await Eventually.HoldsAsync(async () =>
            await page.GetByRole(AriaRole.Link, new() { Name = "Spanish", Exact = true }).CountAsync() > 0);

        // Closed for another reason, and opened again.
        var lost = await WorkBed.IdAsync(bed, "W-4");
        await page.GotoAsync($"/infants/{lost}/search");
        await page.Locator("#reason").SelectOptionAsync("other");
        await page.GetByRole(AriaRole.Button, new() { Name = "Close the follow-up" }).ClickAsync();
        await Eventually.HoldsAsync(async () => await WorkBed.TrayAsync(bed, lost) == "closed");
        await page.GotoAsync($"/infants/{lost}/search");
        await page.GetByRole(AriaRole.Button, new() { Name = "Open again" }).ClickAsync();
        await Eventually.HoldsAsync(async () => await WorkBed.TrayAsync(bed, lost) == "search_again");
        Assert.Equal(["W-1", "W-3"], await bed.ListAsync(
            "select i.value from infant_assignments a join infant_identifiers i on i.infant_id = a.infant_id order by 1"));
    }

    private static Task SaysAsync(IPage page, string words) =>
        Eventually.HoldsAsync(async () => await page.GetByText(words).CountAsync() > 0);

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
