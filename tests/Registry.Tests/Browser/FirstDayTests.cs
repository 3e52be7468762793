using System.Diagnostics;
using System.Net;
using System.Net.Http.Json;
using System.Text.Json;
using Microsoft.Playwright;
using Registry.Tests.Accounts;
using Registry.Tests.Platform;

namespace Registry.Tests.Browser;

/// <summary>
/// A program's first day, as docs/operations/first-day.md tells it, with its pictures: the program started on an empty data folder, set up
/// in a browser, the first upload accepted, and a screener of another site who sees nothing of it.
/// </summary>
public sealed class FirstDayTests(Chromium chromium) : IAsyncDisposable
{
    private const string Secret = "tide lantern orchard seven", Passphrase = "a passphrase of the tests";
    private readonly ProgramFolder _folder = new();
    private static CancellationToken Ct => TestContext.Current.CancellationToken;

    public ValueTask DisposeAsync() => _folder.DisposeAsync();

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public async Task From_an_empty_folder_to_an_accepted_upload(bool phone)
    {
        using (var program = await ProgramProcess.StartAsync(_folder, Ct))
        {
            var page = await OpenAsync(program, phone);
            await BecomeAdministratorAsync(page, LinkOf(program));
            await StateProgramAsync(page);
            await AddPlacesAsync(page);
            var invitation = await InviteAsync(page);
            await SendAsync(await IssueKeyAsync(page));
            await page.SeeAsync("/setup", "first-day-9-list");
            Assert.Equal(1, await page.Locator(".check-list li:has-text('rows were accepted') .tag:has-text('Done')").CountAsync());
            Assert.Equal(0, await page.Locator("nav[aria-label=Set-up]").CountAsync());
            await page.GotoAsync("/operations");
            await page.Locator(".banner:has-text('A backup was taken')").WaitForAsync();
            var infant = await ProgramProcess.AskAsync<Guid>(_folder, "select id from infants", Ct);
            Assert.NotEqual(Guid.Empty, infant);
            await SeeNothingAsync(await OpenAsync(program, phone), invitation, infant);
        }

        foreach (var verb in new[] { ["backup", "--out", Path.Combine(_folder, "first.backup")], new[] { "check" } })
        {
            var (code, said) = await RunAsync(verb);
            Assert.True(code == 0, said);
        }
    }

    private async Task<IPage> OpenAsync(ProgramProcess program, bool phone)
    {
        var page = await chromium.OpenAsync(program.Address, phone);
        page.PageError += (_, error) => Assert.Fail(error);
        return page;
    }

    private static string LinkOf(ProgramProcess program) =>
        program.Said.Single(l => l.Contains("/setup/link/", StringComparison.Ordinal)).Split(' ')
            .Single(w => w.StartsWith("http", StringComparison.Ordinal));

    private static async Task BecomeAdministratorAsync(IPage page, string link)
    {
        await page.SeeAsync(link, "first-day-1-link");
        await page.GetByLabel("Your name").FillAsync("Ada Millbrook");
        await page.GetByLabel("E-mail").FillAsync("ada@lindmere.example");
        await page.GetByLabel("Password").FillAsync(Secret);
        await ClickAsync(page, "Become the administrator");
        await page.Locator("#key").WaitForAsync();
        await page.SeeHereAsync("first-day-2-factor");
        await page.Locator("#Code").FillAsync(CodeOf.Key(await page.Locator("#key").InnerTextAsync(), DateTimeOffset.UtcNow));
        await ClickAsync(page, "Use this second factor");
        await page.SeeHereAsync("first-day-3-recovery");
        await page.GetByText("I have kept them").ClickAsync();
        await page.ArriveAsync("*/setup");
        Assert.Equal(404, (await page.Context.APIRequest.GetAsync(link)).Status);
    }

    private static async Task StateProgramAsync(IPage page)
    {
        await page.Locator("main").GetByText("Go on", new() { Exact = true }).ClickAsync();
        await page.GetByLabel("Name of the program").FillAsync("Lindmere newborn hearing program");
        await page.GetByLabel("Region", new() { Exact = true }).FillAsync("Lindmere");
        await page.GetByLabel("Time zone", new() { Exact = true }).FillAsync("America/Chicago");
        await page.GetByLabel("Telephone families").FillAsync("555-0100");
        await page.GetByLabel("Who answers for the privacy").FillAsync("Prue Holloway, 555-0101");
        await page.GetByLabel("Spanish").CheckAsync();
        await page.GetByLabel("Counties of the region").FillAsync("Lind\nMere");
        await page.SeeHereAsync("first-day-4-program", whole: true);
        await ClickAsync(page, "Save and go on");
        await page.ArriveAsync("*/setup/policy");
        await page.Locator(".brand:has-text('Lindmere newborn hearing program')").WaitForAsync();
        await page.SeeHereAsync("first-day-5-policy");
        await page.Locator("input[name=version][value='2026-1 (1-2-3)']").CheckAsync();
        await ClickAsync(page, "Start from it");
        await page.ArriveAsync("*/setup/mail");
        await page.SeeHereAsync("first-day-6-mail");
        await ClickAsync(page, "test letter");
        await page.ArriveAsync("*/places");
    }

    private static async Task AddPlacesAsync(IPage page)
    {
        await page.GetByRole(AriaRole.Link, new() { Name = "From a file" }).ClickAsync();
        const string header = "code,name,kind,county,contact_name,contact_phone,npi";
        const string first = "harrow-point,Harrow Point,hospital,Lind,Ida Fell,555-0144,123456789";
        const string second = "stillwater,Stillwater,hospital,Mere,Ona Reed,555-0145,";
        await page.GetByLabel("or its rows").FillAsync($"{header}\n{first}0\n{second}");
        await ClickAsync(page, "Try it");
        await page.GetByText("no National Provider Identifier").WaitForAsync();
        await page.SeeHereAsync("first-day-7-places", whole: true);
        await page.GetByLabel("or its rows").FillAsync($"{header}\n{first}3\n{second}");
        await ClickAsync(page, "Try it");
        await ClickAsync(page, "Save 2 places");
        await page.ArriveAsync("*/places");
        await page.SeeHereAsync("places");
        await page.GetByRole(AriaRole.Link, new() { Name = "Harrow Point" }).ClickAsync();
        await page.ArriveAsync("*/places/edit/harrow-point");
        await page.SeeHereAsync("place");
    }

    private static async Task<string> InviteAsync(IPage page)
    {
        await page.GotoAsync("/access/people");
        foreach (var (email, name, role, site) in new[]
        {
            ("cora@lindmere.example", "Cora Ashgrove", "coordinator", ""),
            ("sena@stillwater.example", "Sena Quispel", "screener", "stillwater"),
        })
        {
            await page.Locator("#Email").FillAsync(email);
            await page.Locator("#Name").FillAsync(name);
            await page.Locator("#Role").SelectOptionAsync(role);
            await page.Locator("#Site").SelectOptionAsync(site);
            await ClickAsync(page, "Invite");
            await page.Locator($".banner:has-text('{email}')").WaitForAsync();
        }

        await page.SeeHereAsync("first-day-8-people");
        var link = await page.Locator("#made-link").InnerTextAsync();
        await page.GetByRole(AriaRole.Link, new() { Name = "Sena Quispel" }).ClickAsync();
        await page.ArriveAsync("*/access/people/*");
        await page.SeeHereAsync("person");
        await page.SeeAsync("/access/roles", "roles");
        return link;
    }

    private static async Task<string> IssueKeyAsync(IPage page)
    {
        await page.GotoAsync("/access/keys");
        await page.Locator("#Site").SelectOptionAsync("harrow-point");
        await page.Locator("#Name").FillAsync("Ward system");
        await ClickAsync(page, "Issue a key");
        await page.Locator("#command").WaitForAsync();
        await page.SeeHereAsync("first-day-8-key");
        return await page.Locator("#command").InnerTextAsync();
    }

    /// <summary>What the command line on the page does, by its parts.</summary>
    private static async Task SendAsync(string command)
    {
        var quoted = command.Split('\'').Where((_, i) => i % 2 == 1).ToList();
        using var http = new HttpClient();
        http.DefaultRequestHeaders.TryAddWithoutValidation("Authorization", quoted[0].Split(": ")[1]);
        var file = await http.GetByteArrayAsync(new Uri(new(quoted[2]), "/examples/first-upload.csv"), Ct);
        foreach (var trial in new[] { true, false })
        {
            using var content = new ByteArrayContent(file) { Headers = { ContentType = new("text/csv") } };
            using var answer = await http.PostAsync(trial ? quoted[2] + "?dry_run=true" : quoted[2], content, Ct);
            Assert.Equal(HttpStatusCode.OK, answer.StatusCode);
            var said = await answer.Content.ReadFromJsonAsync<JsonElement>(Ct);
            Assert.Equal(3, (trial ? said : said.GetProperty("submission")).GetProperty("accepted").GetInt32());
        }
    }

    private static async Task SeeNothingAsync(IPage page, string invitation, Guid infant)
    {
        await page.GotoAsync(invitation);
        await page.GetByLabel("Password").FillAsync(Secret);
        await page.SeeHereAsync("first-day-10-password");
        await ClickAsync(page, "Choose this password");
        await page.Locator("nav[aria-label=Main]").WaitForAsync();
        await page.GotoAsync("/infants");
        await page.GetByText("No infant matches").WaitForAsync();
        await page.SeeHereAsync("first-day-11-nothing");
        Assert.DoesNotContain("EXAMPLE-1", await page.ContentAsync(), StringComparison.Ordinal);
        await page.GotoAsync("/submissions");
        Assert.Equal(0, await page.Locator("main tbody tr").CountAsync());
        foreach (var path in new[] { $"/infants/{infant}", "/sites/harrow-point" })
            Assert.Equal(404, (await page.Context.APIRequest.GetAsync(path)).Status);
    }

    private static Task ClickAsync(IPage page, string name) =>
        page.Locator("main button[type=submit]").Filter(new() { HasText = name }).First.ClickAsync();

    /// <summary>A verb on the same data folder.</summary>
    private async Task<(int Code, string Said)> RunAsync(params string[] verb)
    {
        var start = new ProcessStartInfo("dotnet", [typeof(Program).Assembly.Location, .. verb])
        {
            RedirectStandardError = true,
            RedirectStandardOutput = true,
        };
        start.Environment["Database__Embedded__DataFolder"] = _folder;
        start.Environment["Demo__Enabled"] = "false";
        start.Environment["ConnectionStrings__Registry"] = "";
        start.Environment["DOTNET_ENVIRONMENT"] = "Development";
        start.Environment["Operations__BackupPassphrase"] = Passphrase;
        start.Environment["Operations__DiskFreeMebibytes"] = "1";
        using var process = Process.Start(start)!;
        var output = process.StandardOutput.ReadToEndAsync(Ct);
        var error = await process.StandardError.ReadToEndAsync(Ct);
        await process.WaitForExitAsync(Ct);
        return (process.ExitCode, await output + error);
    }
}
