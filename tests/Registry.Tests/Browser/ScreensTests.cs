using Microsoft.Extensions.DependencyInjection;
using Microsoft.Playwright;
using Registry.Demo;
using Registry.PolicyChanges;
using Registry.Tests.Architecture;

namespace Registry.Tests.Browser;

/// <summary>
/// Each demo person signs in and does the first task, in a real browser, at desk and phone width: no page may overflow sideways or
/// break a script. <c>REGISTRY_SCREENSHOTS=1</c> keeps what was seen in docs/screens.
/// </summary>
public sealed class ScreensTests(TestDatabase database, Chromium chromium)
{
    private static readonly bool Keep = Environment.GetEnvironmentVariable("REGISTRY_SCREENSHOTS") == "1";
    private static CancellationToken Ct => TestContext.Current.CancellationToken;

    [Fact]
    public async Task Every_role_does_its_first_task()
    {
        var settings = DemoPeople.Settings().ToDictionary();
        await using var app = await RegistryApp.ListenAsync(database, settings: settings);
        await LoadDemoRegion.RunAsync(app.Services, new DemoRegion(app.Today, Keep ? 3_000 : 300), _ => { }, Ct);
        foreach (var phone in new[] { false, true })
        {
            await CoordinatorAsync(app, phone);
            await ManagerAsync(app, phone);
            await ScreenerAsync(app, phone);
        }
    }

    private async Task CoordinatorAsync(RegistryApp app, bool phone)
    {
        var page = await SignInAsync(app, DemoPeople.All[0].Email, phone);
        await SeeAsync(page, "/", "overview", phone);
        await SeeAsync(page, "/follow-up", "follow-up", phone);
        await page.Locator("main table tbody a[href^='/infants/']").First.ClickAsync();
        await page.WaitForURLAsync("**/infants/*");
        await SeeHereAsync(page, "infant", phone);
        await page.Locator("main a[href$='/reads']").First.ClickAsync();
        await page.WaitForURLAsync("**/reads");
        await SeeHereAsync(page, "reads", phone);
        await SeeAsync(page, "/infants", "infants", phone);
        await SeeAsync(page, "/sites", "sites", phone);
        await ReportsAsync(page, phone);
        await SeeAsync(page, "/submissions/held", "held-rows", phone);
        await page.Locator("main table tbody a[href*='/rows/']").First.ClickAsync();
        await page.WaitForURLAsync("**/rows/*");
        await SeeHereAsync(page, "held-row", phone);
        await SeeAsync(page, "/policy", "policy", phone);
        await PolicyAsync(app, page, phone);
        await SeeAsync(page, "/outreach", "letters", phone);
        await SeeAsync(page, "/operations", "operations", phone);
        await SeeAsync(page, "/access/keys", "site-keys", phone);
        await page.GotoAsync("/no-such-page");
        await SeeHereAsync(page, "not-found", phone);
    }

    /// <summary>Drafts a stricter policy version, and sees whom it would change.</summary>
    private static async Task PolicyAsync(RegistryApp app, IPage page, bool phone)
    {
        await SeeAsync(page, "/policy/new", "policy-new", phone);
        await page.Locator("#version").FillAsync($"1-2-3 {(phone ? "phone" : "desk")}");
        await page.Locator("input[name='diagnosisDeadline.amount']").FillAsync("2");
        await page.Locator("input[name='interventionDeadline.amount']").FillAsync("3");
        await page.Locator("main form button[type=submit]").Last.ClickAsync();
        await page.WaitForURLAsync("**/policy/drafts/*");
        // as a worker would
        await app.Services.GetRequiredService<CountStatusChanges>().RunAsync(Guid.Parse(new Uri(page.Url).Segments[^1]), Ct);
        await page.ReloadAsync();
        await page.Locator("#changes a").WaitForAsync();
        await SeeHereAsync(page, "policy-draft", phone);
        await page.Locator("#changes a").ClickAsync();
        await page.WaitForURLAsync("**/infants");
        await SeeHereAsync(page, "policy-draft-infants", phone);
    }

    /// <summary>Publishes a report and opens the infants behind one of its numbers.</summary>
    private static async Task ReportsAsync(IPage page, bool phone)
    {
        await SeeAsync(page, "/reports", "reports", phone);
        await page.Locator("main a[href*='/reports/infants?']").First.ClickAsync();
        await page.WaitForURLAsync("**/reports/infants?*");
        await SeeHereAsync(page, "report-infants", phone);
        await page.GoBackAsync();
        await page.Locator("main form[method=post] input[name$=itle]").First.FillAsync("Screening, diagnosis and intervention");
        await page.Locator("main form[method=post] button[type=submit]").First.ClickAsync();
        await page.WaitForURLAsync("**/reports/published/*");
        await SeeHereAsync(page, "published-report", phone);
        await SeeAsync(page, "/reports/published", "published-reports", phone);
    }

    private async Task ManagerAsync(RegistryApp app, bool phone)
    {
        var page = await SignInAsync(app, DemoPeople.All[1].Email, phone);
        await SeeAsync(page, "/sites", "sites-manager", phone);
        Assert.Equal(1, await page.Locator("main table tbody tr th[scope=row] a[href^='/sites/']").CountAsync());
        await page.Locator("main table tbody a[href^='/sites/']").First.ClickAsync();
        await SeeHereAsync(page, "site", phone);
        await page.Locator("main .figures a[href*='/tests?']").First.ClickAsync();
        await page.WaitForURLAsync("**/tests?*");
        await SeeHereAsync(page, "site-tests", phone);
    }

    private async Task ScreenerAsync(RegistryApp app, bool phone)
    {
        var page = await SignInAsync(app, DemoPeople.All[2].Email, phone);
        await SeeAsync(page, "/submissions/new", "upload", phone);
        await page.SetInputFilesAsync("input[type=file]", Path.Combine(SourceTree.Root, "demo-data/examples/screens.csv"));
        await page.Locator("main form button[type=submit]").First.ClickAsync();
        await page.WaitForURLAsync(url => url.Contains("/submissions/", StringComparison.Ordinal)
            && !url.EndsWith("/new", StringComparison.Ordinal));
        await SeeHereAsync(page, "submission", phone);
        await SeeAsync(page, "/submissions", "submissions", phone);
        await page.GotoAsync("/access/keys");
        await SeeHereAsync(page, "denied", phone);
    }

    private async Task<IPage> SignInAsync(RegistryApp app, string email, bool phone)
    {
        var page = await chromium.OpenAsync(app.Address, phone);
        page.PageError += (_, error) => Assert.Fail(error);
        await page.GotoAsync("/");
        await SeeHereAsync(page, "sign-in", phone);
        await page.Locator("#sign-in input[type=email]").FillAsync(email);
        await page.Locator("#sign-in input[type=password]").FillAsync(DemoPeople.Password);
        await page.Locator("#sign-in button[type=submit]").ClickAsync();
        await page.Locator("nav[aria-label=Main]").WaitForAsync();
        return page;
    }

    private static async Task SeeAsync(IPage page, string path, string name, bool phone)
    {
        var answer = await page.GotoAsync(path);
        Assert.Equal(200, answer!.Status);
        await SeeHereAsync(page, name, phone);
    }

    private static async Task SeeHereAsync(IPage page, string name, bool phone)
    {
        await page.WaitForLoadStateAsync(LoadState.NetworkIdle);
        var overflow = await page.EvaluateAsync<int>("document.documentElement.scrollWidth - document.documentElement.clientWidth");
        Assert.True(overflow <= 0, $"{name} is {overflow} px wider than the {(phone ? "phone" : "desk")}.");
        Assert.False(string.IsNullOrWhiteSpace(await page.Locator("h1").First.InnerTextAsync()));
        if (!Keep) return;
        Directory.CreateDirectory(Path.Combine(SourceTree.Root, "docs/screens"));
        await page.ScreenshotAsync(
            new() { Path = Path.Combine(SourceTree.Root, $"docs/screens/{name}-{(phone ? "phone" : "desktop")}.png"), FullPage = false });
    }
}
