using Microsoft.Playwright;
using Registry.Records;
using Registry.Tests.FollowUp;
using Registry.Tests.HandOffs;

namespace Registry.Tests.Browser;

/// <summary>A day of a clinic, of an early-intervention program, and of a doctor without an account, at a desk and on a phone.</summary>
public sealed class DaysOfOthersTests(TestDatabase database, Chromium chromium)
{
    [Theory]
    [InlineData(false), InlineData(true)]
    public async Task A_clinic_accepts_an_infant_returns_another_and_enters_a_result(bool phone)
    {
        await using var beds = await HandOffBed.StartAsync(database, listen: true);
        var bed = beds.Bed;
        var office = await OfficeAsync(beds);
        await HandAsync(office, await WorkBed.IdAsync(bed, "W-1"), "clinic", "cove");
        await HandAsync(office, await WorkBed.IdAsync(bed, "W-3"), "clinic", "cove");

        var person = await bed.AddPersonAsync(Role.AudiologyClinic, beds.Clinic);
        var page = await SignedIn.OpenAsync(chromium, bed.App, person.Email!, phone: phone);
        await page.ArriveAsync("*/clinic");
        await page.SeeHereAsync("clinic");
        await page.GetByRole(AriaRole.Button, new() { Name = "Accept: Ada Marlow" }).ClickAsync();
        await SaysAsync(page, "Recorded.");
        var row = page.Locator("tr", new() { HasText = "Ada Berg" });
        await row.Locator("summary", new() { HasText = "Return" }).ClickAsync();
        await row.Locator("select[name=reason]").SelectOptionAsync("no_capacity");
        await row.GetByRole(AriaRole.Button, new() { Name = "Return: Ada Berg" }).PressAsync("Enter");
        await Eventually.HoldsAsync(async () => await page.GetByText("Ada Berg").CountAsync() == 0);

        await page.GetByRole(AriaRole.Link, new() { Name = "Enter the result of Ada Marlow" }).ClickAsync();
        await page.ArriveAsync("*/enter/diagnosis*");
        await page.Locator("#typed-evaluated_on").FillAsync("2026-11-25");
        await page.GetByLabel("Right ear: finding").SelectOptionAsync("sensorineural");
        await page.GetByLabel("Right ear: degree").SelectOptionAsync("mild");
        await page.GetByLabel("Left ear: finding").SelectOptionAsync("normal");
        await page.GetByRole(AriaRole.Button, new() { Name = "Save", Exact = true }).ClickAsync();
        await Eventually.HoldsAsync(async () =>
            (await bed.ListAsync("select right_finding || ' ' || left_finding from diagnoses")).Contains("sensorineural normal"));
        await page.GotoAsync("/clinic");
        Assert.Equal(0, await page.GetByRole(AriaRole.Link, new() { Name = "Enter the result of Ada Marlow" }).CountAsync());
        Assert.Equal(["accepted", "returned"], await bed.ListAsync("select state from hand_offs order by 1"));
    }

    [Theory]
    [InlineData(false), InlineData(true)]
    public async Task A_program_acknowledges_a_referral_and_is_shown_the_record_once_the_family_consented(bool phone)
    {
        await using var beds = await HandOffBed.StartAsync(database, listen: true);
        var bed = beds.Bed;
        var office = await OfficeAsync(beds);
        var infant = await WorkBed.IdAsync(bed, "W-2");
        await HandAsync(office, infant, "intervention_program", "first-steps");

        var person = await bed.AddPersonAsync(Role.InterventionProgram, beds.Program);
        var page = await SignedIn.OpenAsync(chromium, bed.App, person.Email!, phone: phone);
        await page.ArriveAsync("*/early-intervention");
        await page.SeeHereAsync("early-intervention");
        await page.GetByRole(AriaRole.Button, new() { Name = "Acknowledge: Ada Quist" }).ClickAsync();
        await SaysAsync(page, "Recorded.");
        Assert.Equal(0, await page.GetByRole(AriaRole.Link, new() { Name = "Ada Quist" }).CountAsync());

        await office.GotoAsync($"/infants/{infant}/hand-offs");
        await office.Locator("summary", new() { HasText = "Record the consent" }).ClickAsync();
        await office.Locator("input[name=consentOn]").FillAsync("2026-11-25");
        await office.GetByRole(AriaRole.Button, new() { Name = "Record the consent: Site first-steps" }).ClickAsync();
        await SaysAsync(office, "Recorded.");

        await page.ReloadAsync();
        await page.GetByRole(AriaRole.Link, new() { Name = "Record the enrollment of Ada Quist" }).ClickAsync();
        await page.ArriveAsync("*/enter/intervention");
        await page.Locator("#typed-event").SelectOptionAsync("enrolled");
        await page.Locator("#typed-happened_on").FillAsync("2026-11-25");
        await page.GetByRole(AriaRole.Button, new() { Name = "Save" }).ClickAsync();
        await page.ArriveAsync("*/entered/*");
        await page.GotoAsync("/early-intervention");
        await page.GetByRole(AriaRole.Link, new() { Name = "Record the service plan of Ada Quist" }).ClickAsync();
        await page.ArriveAsync("*/enter/intervention*");
        await page.Locator("#typed-event").SelectOptionAsync("service_plan");
        await page.Locator("#typed-happened_on").FillAsync("2026-11-25");
        await page.GetByRole(AriaRole.Button, new() { Name = "Save" }).ClickAsync();
        await Eventually.HoldsAsync(async () => (await bed.ListAsync("select kind from interventions")).Contains("service_plan"));
        await page.GotoAsync("/early-intervention");
        Assert.Equal(0, await page.GetByRole(AriaRole.Link, new() { Name = "Record the service plan of Ada Quist" }).CountAsync());
    }

    [Theory]
    [InlineData(false), InlineData(true)]
    public async Task A_doctor_without_an_account_answers_by_a_link(bool phone)
    {
        await using var beds = await HandOffBed.StartAsync(database, listen: true);
        var office = await OfficeAsync(beds);
        var infant = await WorkBed.IdAsync(beds.Bed, "W-1");
        await HandAsync(office, infant, "medical_home", "Dr. Okafor");
        await office.GotoAsync($"/infants/{infant}/ask");
        await office.SeeHereAsync("ask-for-an-answer");
        await office.GetByRole(AriaRole.Button, new() { Name = "Ask whether it arrived" }).ClickAsync();
        var link = new Uri(await office.Locator("#made-link").InnerTextAsync()).AbsolutePath;

        var page = await chromium.OpenAsync(beds.Bed.App.Address, phone);
        beds.Bed.App.DisposeFirst(page.Context);
        await page.GotoAsync(link);
        await page.SeeHereAsync("answer-by-link");
        await page.Locator("#born").FillAsync("2026-10-10");
        await page.GetByRole(AriaRole.Button, new() { Name = "Continue" }).ClickAsync();
        await page.GetByLabel("We take the infant on").CheckAsync();
        await page.GetByRole(AriaRole.Button, new() { Name = "Send the answer" }).ClickAsync();
        await SaysAsync(page, "Thank you.");
        Assert.Equal(["accepted"], await beds.Bed.ListAsync("select state from hand_offs"));
    }

    private async Task<IPage> OfficeAsync(HandOffBed beds)
    {
        var coordinator = await beds.Bed.AddPersonAsync(Role.Coordinator);
        return await SignedIn.OpenAsync(chromium, beds.Bed.App, coordinator.Email!);
    }

    private static async Task HandAsync(IPage office, string infant, string kind, string to)
    {
        await office.GotoAsync($"/infants/{infant}");
        await office.GetByRole(AriaRole.Link, new() { Name = "Hand off" }).ClickAsync();
        await office.ArriveAsync("*/hand-offs");
        await office.SeeHereAsync("hand-off");
        await office.Locator("#kind").SelectOptionAsync(kind);
        if (kind == "medical_home") await office.Locator("#name").FillAsync(to);
        else await office.Locator("#site").SelectOptionAsync(to);
        await office.Locator("#step").SelectOptionAsync(kind == "intervention_program" ? "intervention" : "diagnosis");
        await office.GetByRole(AriaRole.Button, new() { Name = "Hand off" }).ClickAsync();
        await SaysAsync(office, "Handed off.");
    }

    private static Task SaysAsync(IPage page, string words) =>
        Eventually.HoldsAsync(async () => await page.GetByText(words).CountAsync() > 0);
}
