using System.Text;
using Microsoft.Playwright;
using Registry.Records;
using Registry.Tests.Browser;

namespace Registry.Tests.Intake.Mappings;

/// <summary>A mapping made, used and taken back in a browser.</summary>
public sealed class MappingScreensTests(TestDatabase database, Chromium chromium)
{
    private const string Mappings = "/submissions/mappings";

    private const string Saved =
        """
        {"columns":[{"header":"MRN","field":"record_number"},{"header":"Born on","field":"birth_date","dateForm":"MM/dd/yyyy"},
        {"header":"Sex","field":"sex","codes":{"F":"female","M":"male"}},{"header":"Mother","field":"mother_family_name"}],
        "fixed":{"kind":"birth"}}
        """;

    private static readonly FilePayload Ward = new()
    {
        Name = "ward.csv",
        MimeType = "text/csv",
        Buffer = CodePagesEncodingProvider.Instance.GetEncoding(1252)!
            .GetBytes("MRN,Born on,Sex,Mother\n71,11/01/2026,F,Núñez\n72,11/02/2026,M,Ott\n"),
    };

    [Fact]
    public async Task A_sample_shows_its_values_and_what_its_headers_are_read_as_and_cannot_be_saved_unseen()
    {
        await using var bed = await IntakeBed.StartAsync(database, listen: true);
        var page = await ManagerAsync(bed);
        await ReadSampleAsync(page);
        await page.GetByText("11/01/2026 · 11/02/2026").WaitForAsync();
        Assert.Equal("sex", await page.GetByLabel("Sex is read as").InputValueAsync());
        Assert.Equal(0, await Button(page, "Save").CountAsync());
    }

    [Fact]
    public async Task What_was_looked_at_is_what_is_saved()
    {
        await using var bed = await IntakeBed.StartAsync(database, listen: true);
        var page = await ManagerAsync(bed);
        // The dates are not ours, and the preview says so before anything is read in earnest.
        await LookAtTheRowsAsync(page);
        await page.GetByLabel("Form of the dates of Born on").FillAsync("MM/dd/yyyy");
        await Button(page, "Save").ClickAsync();
        // What was looked at is not what would be saved: it is shown again first.
        await page.GetByText("2 of 2 rows would pass").WaitForAsync();
        Assert.Contains("2026-11-01", await page.InnerTextAsync("main"), StringComparison.Ordinal);
        Assert.Equal(0, await bed.CountAsync("column_mapping_versions"));
        await page.SeeHereAsync("mapping", whole: true);
        await Button(page, "Save").ClickAsync();
        await page.GetByText("The mapping is saved and in force.").WaitForAsync();
        Assert.Equal(1, await bed.CountAsync("column_mapping_versions"));
    }

    [Fact]
    public async Task The_next_file_of_its_header_is_read_by_it_and_says_which_version()
    {
        await using var bed = await IntakeBed.StartAsync(database, listen: true);
        await bed.AddMappingAsync("ward list", Saved);
        var page = await ManagerAsync(bed);
        await page.GotoAsync("/submissions/new");
        await page.SetInputFilesAsync("input[type=file]", Ward);
        await page.GetByRole(AriaRole.Button, new() { Name = "Upload", Exact = true }).ClickAsync();
        await page.GetByRole(AriaRole.Heading, new() { Name = "ward.csv Done" }).WaitForAsync();
        Assert.Equal(["2026-11-01 female Núñez", "2026-11-02 male Ott"],
            await bed.ListAsync("select concat_ws(' ', born_on, sex, mother_family_name) from births order by 1"));
        await page.GetByRole(AriaRole.Link, new() { Name = "ward list, version 1" }).ClickAsync();
        await page.GetByRole(AriaRole.Heading, new() { Name = "Versions" }).WaitForAsync();
    }

    [Fact]
    public async Task A_mapping_is_taken_out_of_use_and_a_version_put_in_force_again()
    {
        await using var bed = await IntakeBed.StartAsync(database, listen: true);
        var mapping = await bed.AddMappingAsync("ward list", Saved);
        var page = await ManagerAsync(bed);
        await page.GotoAsync($"{Mappings}/{mapping}");
        await Button(page, "Take out of use").ClickAsync();
        await page.GetByText("The mapping is out of use.").WaitForAsync();
        await Button(page, "Put in force again: version 1").ClickAsync();
        await page.GetByText("Version 1 is in force again.").WaitForAsync();
        await page.SeeHereAsync("mapping-versions", whole: true);
        Assert.Equal(3, await bed.CountAsync("column_mapping_versions"));
    }

    [Fact]
    public async Task Looking_at_a_sample_is_recorded_with_how_many_infants_it_showed()
    {
        await using var bed = await IntakeBed.StartAsync(database, listen: true);
        var page = await ManagerAsync(bed);
        await LookAtTheRowsAsync(page);
        Assert.True(await bed.CountAsync("access_records where action like '%mappings%' and infant_count = 2") > 0);
    }

    [Fact]
    public async Task Another_sites_manager_does_not_find_it()
    {
        await using var bed = await IntakeBed.StartAsync(database, listen: true);
        var mapping = await bed.AddMappingAsync("ward list", Saved);
        var other = await SignedIn.OpenAsync(chromium, bed.App, (await bed.AddPersonAsync(Role.SiteManager, bed.Hill)).Email!, phone: true);
        Assert.Equal(404, (await other.GotoAsync($"{Mappings}/{mapping}"))!.Status);
    }

    [Fact]
    public async Task A_coordinator_finds_a_sites_mapping_and_its_versions_on_a_phone()
    {
        await using var bed = await IntakeBed.StartAsync(database, listen: true);
        await bed.AddMappingAsync("ward list", Saved);
        var coordinator = await SignedIn.OpenAsync(chromium, bed.App, (await bed.AddPersonAsync(Role.Coordinator)).Email!, phone: true);
        await coordinator.GotoAsync(Mappings);
        await coordinator.SeeHereAsync("mappings", whole: true);
        await coordinator.GetByRole(AriaRole.Link, new() { Name = "ward list" }).ClickAsync();
        await coordinator.GetByRole(AriaRole.Heading, new() { Name = "Versions" }).WaitForAsync();
        await coordinator.SeeHereAsync("mapping", whole: true);
    }

    private async Task<IPage> ManagerAsync(IntakeBed bed)
    {
        var page = await SignedIn.OpenAsync(chromium, bed.App, (await bed.AddPersonAsync(Role.SiteManager, bed.Harbour)).Email!);
        page.Dialog += async (_, dialog) => await dialog.AcceptAsync();
        return page;
    }

    private static async Task ReadSampleAsync(IPage page)
    {
        await page.GotoAsync(Mappings);
        await page.GetByRole(AriaRole.Link, new() { Name = "New mapping" }).ClickAsync();
        await page.GetByLabel("Name").FillAsync("ward list");
        await page.SetInputFilesAsync("input[type=file]", Ward);
        await Button(page, "Read the sample").ClickAsync();
        await page.GetByText("11/01/2026 · 11/02/2026").WaitForAsync();
    }

    /// <summary>A sample read and filled in, all but the form of the dates.</summary>
    private static async Task LookAtTheRowsAsync(IPage page)
    {
        await ReadSampleAsync(page);
        await page.GetByLabel("MRN is read as").SelectOptionAsync("record_number");
        await page.GetByLabel("Born on is read as").SelectOptionAsync("birth_date");
        await page.GetByLabel("Mother is read as").SelectOptionAsync("mother_family_name");
        await page.GetByLabel("Codes of Sex").FillAsync("F = female\nM = male");
        await page.GetByLabel("Column of fixed value 1").SelectOptionAsync("kind");
        await page.GetByLabel("Fixed value 1", new() { Exact = true }).FillAsync("birth");
        await Button(page, "Look at the rows").ClickAsync();
        await page.GetByText("0 of 2 rows would pass").WaitForAsync();
    }

    private static ILocator Button(IPage page, string name) => page.GetByRole(AriaRole.Button, new() { Name = name });
}
