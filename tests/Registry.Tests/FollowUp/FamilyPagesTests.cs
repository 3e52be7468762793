using System.Net;
using System.Text.RegularExpressions;
using Microsoft.Playwright;
using Registry.Records;
using Registry.Tests.Browser;
using Registry.Tests.Intake;

namespace Registry.Tests.FollowUp;

/// <summary>What a person sees of a family and does about it: on the record, in the call panel, in the lists, in the search.</summary>
public sealed partial class FamilyPagesTests(TestDatabase database, Chromium chromium)
{
    private const string Header = "kind,record_number,relation,person_name,contact_phone,phone_use,other_phone,language,interpreter_needed,"
        + "preferred_hours,holds_custody,may_be_told\n";

    [Fact]
    public async Task A_coordinator_writes_down_a_new_number_and_takes_it_back()
    {
        await using var bed = await WorkBed.StartAsync(database);
        using var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var id = await WorkBed.IdAsync(bed, "W-1");
        var before = await client.GetStringAsync($"/infants/{id}", IntakeBed.Ct);
        Assert.Contains($"href=\"/infants/{id}/enter/family_contact?of=mother&amp;back=/infants/{id}\"", before, StringComparison.Ordinal);
        var form = await client.GetStringAsync($"/infants/{id}/enter/family_contact?of=mother", IntakeBed.Ct);
        Assert.Matches("<option selected=\"selected\" value=\"mother\"", form);
        using var saved = await SignedIn.SendFormAsync(client, $"/infants/{id}/enter/family_contact",
        [
            .. Hidden(form), ("Form.Site", "harbour"), ("Form.Columns[relation]", "mother"), ("Form.Columns[contact_phone]", "555-0199"),
            ("Form.Columns[phone_use]", "mobile"), ("Form.Columns[language]", "Danish"),
        ]);
        Assert.Equal(HttpStatusCode.Redirect, saved.StatusCode);
        var entered = saved.Headers.Location!.OriginalString;
        Assert.Contains("Recorded.", await client.GetStringAsync(entered, IntakeBed.Ct), StringComparison.Ordinal);

        // The record, the work list and the panel call the new number; the old one is in the story.
        var record = WebUtility.HtmlDecode(await client.GetStringAsync($"/infants/{id}", IntakeBed.Ct));
        Assert.Contains("href=\"tel:5550199\"", record, StringComparison.Ordinal);
        Assert.Contains("speaks Danish", record, StringComparison.Ordinal);
        Assert.Contains($"action=\"{entered}?handler=Undo\"", record, StringComparison.Ordinal);
        Assert.Contains("""<a class="dial" href="tel:5550199">555-0199</a>""", await client.GetStringAsync("/follow-up", IntakeBed.Ct),
            StringComparison.Ordinal);

        using var undone = await SignedIn.SendFormAsync(client, $"{entered}?handler=Undo", []);
        Assert.Contains("Taken back.", await client.GetStringAsync(undone.Headers.Location!.OriginalString, IntakeBed.Ct),
            StringComparison.Ordinal);
        record = await client.GetStringAsync($"/infants/{id}", IntakeBed.Ct);
        Assert.Contains("href=\"tel:5550142\"", record, StringComparison.Ordinal);
        Assert.DoesNotContain("href=\"tel:5550199\"", record, StringComparison.Ordinal);
        Assert.Contains("taken back", record, StringComparison.Ordinal);
    }

    [Fact]
    public async Task The_panel_shows_whom_to_call_with_all_numbers_hours_and_interpreter()
    {
        await using var bed = await WorkBed.StartAsync(database);
        await bed.SendAsync(Header + "family_contact,W-1,father,Tom Marlow,555-0201,mobile,555-0202,da,yes,after 17:00,,\n");
        using var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var page = await PanelAsync(bed, client, "W-1");
        foreach (var said in new[] { "href=\"tel:5550142\"", "href=\"tel:5550201\"", "href=\"tel:5550202\"", "Father, Tom Marlow",
            "(mobile)", "speaks Danish, needs an interpreter", "after 17:00" })
            Assert.Contains(said, page, StringComparison.Ordinal);
        Assert.DoesNotContain("must not be told", page, StringComparison.OrdinalIgnoreCase);
    }

    [Fact]
    public async Task Where_an_agency_decides_it_is_called_and_the_mother_s_number_is_nowhere_to_be_pressed()
    {
        await using var bed = await WorkBed.StartAsync(database);
        await bed.SendAsync(Header
            + "family_contact,W-1,agency,Lind child protection,555-0300,work,,,,,yes,yes\nfamily_contact,W-1,mother,,,,,,,,,no\n");
        using var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var id = await WorkBed.IdAsync(bed, "W-1");
        foreach (var page in new[]
        {
            await PanelAsync(bed, client, "W-1"), WebUtility.HtmlDecode(await client.GetStringAsync($"/infants/{id}", IntakeBed.Ct)),
        })
        {
            Assert.Contains("Agency (child protection), Lind child protection, holds custody and decides for the child.", page,
                StringComparison.Ordinal);
            Assert.Contains("Mother, Ada Marlow, must not be told of the child's hearing", page, StringComparison.Ordinal);
            Assert.Contains("href=\"tel:5550300\"", page, StringComparison.Ordinal);
        }

        // Every other family of the list has the same number in these tests: look at its own row and record only.
        var list = await client.GetStringAsync("/follow-up", IntakeBed.Ct);
        var row = list[list.IndexOf($"infant={id}", StringComparison.Ordinal)..];
        Assert.Contains("tel:5550300", row[..row.IndexOf("</tr>", StringComparison.Ordinal)], StringComparison.Ordinal);
        Assert.DoesNotContain("tel:5550142", row[..row.IndexOf("</tr>", StringComparison.Ordinal)], StringComparison.Ordinal);
        Assert.DoesNotContain("tel:5550142", await client.GetStringAsync($"/infants/{id}", IntakeBed.Ct), StringComparison.Ordinal);

        // And in the list as a file.
        var csv = await client.GetStringAsync("/follow-up?handler=csv", IntakeBed.Ct);
        Assert.Contains("555-0300", csv, StringComparison.Ordinal);
    }

    /// <summary>As a person meets it, at both widths: what must be known before a call stands within the first screen.</summary>
    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public async Task The_warning_and_the_number_to_call_are_seen_first(bool phone)
    {
        await using var bed = await WorkBed.StartAsync(database, listen: true);
        await bed.SendAsync(Header
            + "family_contact,W-1,agency,Lind child protection,555-0300,work,555-0301,es,yes,after 17:00,yes,yes\n"
            + "family_contact,W-1,mother,,,,,,,,,no\n");
        var coordinator = await bed.AddPersonAsync(Role.Coordinator);
        var page = await SignedIn.OpenAsync(chromium, bed.App, coordinator.Email!, phone: phone);
        var id = await WorkBed.IdAsync(bed, "W-1");
        await page.GotoAsync($"/infants/{id}");
        await page.SeeHereAsync("record-guardian", whole: true);
        Assert.Equal("tel:5550300", await page.Locator(".reach a.phone").GetAttributeAsync("href"));
        foreach (var first in new[] { page.Locator(".reach .banner").First, page.Locator(".reach a.phone") })
        {
            var box = (await first.BoundingBoxAsync())!;
            Assert.InRange(box.Y + box.Height, 0, page.ViewportSize!.Height);
        }

        await page.GotoAsync($"/follow-up?infant={id}");
        await page.SeeHereAsync("call-guardian", whole: true);
        Assert.Equal("tel:5550300", await page.Locator("#call a.phone").GetAttributeAsync("href"));
        await page.GotoAsync($"/infants/{id}/enter/family_contact?of=mother");
        await page.SeeHereAsync("enter-family", whole: true);
    }

    /// <summary>A piece of a case worker's day: the family says its new number on the telephone, and the next call goes there.</summary>
    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public async Task A_case_worker_writes_a_new_number_down_and_is_back_in_the_call(bool phone)
    {
        await using var bed = await WorkBed.StartAsync(database, listen: true);
        var worker = await bed.AddPersonAsync(Role.CaseWorker, null, "Lind");
        var page = await SignedIn.OpenAsync(chromium, bed.App, worker.Email!, phone: phone);
        await page.GotoAsync($"/follow-up?tray=call_today&infant={await WorkBed.IdAsync(bed, "W-1")}");
        await page.Locator("#call").GetByRole(AriaRole.Link, new() { Name = "New phone, address or person" }).ClickAsync();
        await page.ArriveAsync("*/enter/family_contact*");
        await page.SeeHereAsync("enter-family-of-a-call", whole: true);
        await page.Locator("#typed-relation").SelectOptionAsync("mother");
        await page.Locator("#typed-contact_phone").FillAsync("555-0199");
        await page.GetByRole(AriaRole.Button, new() { Name = "Save", Exact = true }).ClickAsync();
        await page.ArriveAsync("*/follow-up*#call");
        await page.SeeHereAsync("call-with-new-number", whole: true);
        Assert.Equal("tel:5550199", await page.Locator("#call a.phone").GetAttributeAsync("href"));

        // A slip of the keyboard: two presses, and the call shows the number it showed before.
        await page.GetByRole(AriaRole.Link, new() { Name = "Look at it, or take it back" }).ClickAsync();
        await page.ArriveAsync("*/entered/*");
        await page.GetByRole(AriaRole.Button, new() { Name = "Undo" }).ClickAsync();
        await Eventually.HoldsAsync(async () => await page.GetByText("Taken back.").CountAsync() > 0);
        await page.GetByRole(AriaRole.Link, new() { Name = "Back to where you were" }).ClickAsync();
        await page.ArriveAsync("*/follow-up*#call");
        Assert.Equal("tel:5550142", await page.Locator("#call a.phone").GetAttributeAsync("href"));
    }

    [Fact]
    public async Task A_child_is_found_by_any_telephone_of_its_family()
    {
        await using var bed = await WorkBed.StartAsync(database);
        await bed.SendAsync(Header + "family_contact,W-2,grandparent,Ida Berg,(555) 020-0301,home,555 020 0302,,,,,\n");
        using var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var id = await WorkBed.IdAsync(bed, "W-2");
        foreach (var typed in new[] { "555 020 0301", "5550200302" })
        {
            using var found = await SignedIn.SendFormAsync(client, "/find", ("find", typed));
            Assert.Contains($"/infants/{id}", await found.Content.ReadAsStringAsync(IntakeBed.Ct), StringComparison.Ordinal);
        }

        // Nobody else's eyes.
        using var hill = await SignedIn.AsAsync(bed, Role.AudiologyClinic, bed.Hill);
        using var nothing = await SignedIn.SendFormAsync(hill, "/find", ("find", "555 020 0301"));
        Assert.DoesNotContain($"/infants/{id}", await nothing.Content.ReadAsStringAsync(IntakeBed.Ct), StringComparison.Ordinal);
    }

    private static async Task<string> PanelAsync(IntakeBed bed, HttpClient client, string number)
    {
        var page = WebUtility.HtmlDecode(await client.GetStringAsync(
            $"/follow-up?infant={await WorkBed.IdAsync(bed, number)}", IntakeBed.Ct));
        return page[page.IndexOf("<section id=\"call\"", StringComparison.Ordinal)..];
    }

    private static IEnumerable<(string, string)> Hidden(string page) =>
        Field().Matches(page).Select(m => (m.Groups[1].Value, WebUtility.HtmlDecode(m.Groups[2].Value)));

    [GeneratedRegex("""<input type="hidden" name="(Form\.\w+)" value="([^"]*)">""")]
    private static partial Regex Field();
}
