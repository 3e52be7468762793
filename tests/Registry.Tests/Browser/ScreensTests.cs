using Microsoft.Extensions.DependencyInjection;
using Microsoft.Playwright;
using Registry.Demo;
using Registry.PolicyChanges;
using Registry.Records;
using Registry.Tests.Architecture;
using Registry.Tests.Intake;

namespace Registry.Tests.Browser;

/// <summary>
/// Each demo person signs in and does the first tasks, in a real browser, at desk and phone width: no page may overflow sideways or
/// break a script.
/// </summary>
public sealed class ScreensTests(ScreensTests.Region region, Chromium chromium) : IClassFixture<ScreensTests.Region>
{
    private static readonly (string Coordinator, string Manager, string Screener) People =
        (DemoPeople.All[0].Email, DemoPeople.All[1].Email, DemoPeople.All[2].Email);

    public static readonly TheoryData<bool> Phone = [false, true];

    [Theory]
    [MemberData(nameof(Phone))]
    public async Task Anybody_sees_the_sign_in_page(bool phone)
    {
        var page = await chromium.OpenAsync(region.App.Address, phone);
        await page.SeeAsync("/", "sign-in");
    }

    [Theory]
    [MemberData(nameof(Phone))]
    public async Task A_coordinator_goes_from_the_list_of_work_to_an_infant_and_who_read_about_it(bool phone)
    {
        var page = await SignInAsync(People.Coordinator, phone);
        await page.SeeAsync("/", "overview");
        await page.SeeAsync("/follow-up", "follow-up");
        await page.Locator("main table tbody th a").First.ClickAsync();
        await page.Locator("#call a[href^='/infants/']").First.ClickAsync();
        await page.ArriveAsync("*/infants/*");
        await page.SeeHereAsync("infant");
        await page.Locator("main a[href$='/reads']").First.ClickAsync();
        await page.ArriveAsync("*/reads");
        await page.SeeHereAsync("reads");
    }

    [Theory]
    [MemberData(nameof(Phone))]
    public async Task A_coordinator_sees_every_list_and_an_unknown_page_says_so(bool phone)
    {
        var page = await SignInAsync(People.Coordinator, phone);
        foreach (var (path, name) in new[]
        {
            ("/infants", "infants"), ("/sites", "sites"), ("/policy", "policy"), ("/outreach", "reminders"),
            ("/meeting", "meeting"), ("/flags", "flags"), ("/reports/chance-of-loss", "chance-of-loss"),
        }) await page.SeeAsync(path, name);
        await page.GotoAsync("/no-such-page");
        await page.SeeHereAsync("not-found");
    }

    [Theory]
    [MemberData(nameof(Phone))]
    public async Task An_administrator_sees_jobs_people_and_keys_and_an_auditor_who_looked(bool phone)
    {
        var page = await SignInAsync(DemoPeople.All.Single(p => p.Role == Role.Administrator).Email, phone);
        foreach (var (path, name) in new[]
        {
            ("/operations", "operations"), ("/access/people", "people"), ("/access/keys", "site-keys"), ("/access/own", "own-sign-in"),
        }) await page.SeeAsync(path, name);
        page = await SignInAsync(DemoPeople.All.Single(p => p.Role == Role.Auditor).Email, phone);
        await page.SeeAsync("/access/trail", "who-looked");
    }

    [Theory]
    [MemberData(nameof(Phone))]
    public async Task A_coordinator_opens_the_infants_behind_a_number_and_publishes_a_report(bool phone)
    {
        var page = await SignInAsync(People.Coordinator, phone);
        await page.SeeAsync("/reports", "reports");
        await page.Locator("main a[href*='/reports/infants?']").First.ClickAsync();
        await page.ArriveAsync("*/reports/infants?*");
        await page.SeeHereAsync("report-infants");
        await page.GoBackAsync();
        await page.Locator("main form[method=post] input[name$=itle]").First.FillAsync("Screening, diagnosis and intervention");
        await page.Locator("main form[method=post] button[type=submit]").First.ClickAsync();
        await page.ArriveAsync("*/reports/published/*");
        await page.SeeHereAsync("published-report");
        await page.SeeAsync("/reports/published", "published-reports");
    }

    [Theory]
    [MemberData(nameof(Phone))]
    public async Task A_coordinator_opens_a_row_that_waits(bool phone)
    {
        var page = await SignInAsync(People.Coordinator, phone);
        await page.SeeAsync("/submissions/held", "held-rows");
        await page.Locator("main table tbody a[href*='/rows/']").First.ClickAsync();
        await page.ArriveAsync("*/rows/*");
        await page.SeeHereAsync("held-row");
    }

    [Theory]
    [MemberData(nameof(Phone))]
    public async Task A_coordinator_drafts_a_stricter_policy_and_sees_whom_it_would_change(bool phone)
    {
        var page = await SignInAsync(People.Coordinator, phone);
        await page.SeeAsync("/policy/new", "policy-new");
        await page.Locator("#version").FillAsync($"1-2-3 {(phone ? "phone" : "desk")}");
        await page.Locator("input[name='diagnosisDeadline.amount']").FillAsync("2");
        await page.Locator("input[name='interventionDeadline.amount']").FillAsync("3");
        await page.Locator("main form button[type=submit]").Last.ClickAsync();
        await page.ArriveAsync("*/policy/drafts/*");
        // as a worker would
        await region.App.Services.GetRequiredService<CountStatusChanges>()
            .RunAsync(Guid.Parse(new Uri(page.Url).Segments[^1]), IntakeBed.Ct);
        await page.ReloadAsync();
        await page.Locator("#changes a").WaitForAsync();
        await page.SeeHereAsync("policy-draft");
        await page.Locator("#changes a").ClickAsync();
        await page.ArriveAsync("*/infants");
        await page.SeeHereAsync("policy-draft-infants");
    }

    [Theory]
    [MemberData(nameof(Phone))]
    public async Task A_manager_sees_the_own_site_alone_and_its_tests(bool phone)
    {
        var page = await SignInAsync(People.Manager, phone);
        await page.SeeAsync("/sites?by=site", "sites-manager");
        Assert.Equal(1, await page.Locator("main table tbody tr th[scope=row] a[href^='/sites/']").CountAsync());
        await page.GotoAsync("/sites"); // leads to the own one
        await page.ArriveAsync("*/sites/*");
        await page.SeeHereAsync("site");
        await page.Locator("main .figures a[href*='/tests?']").First.ClickAsync();
        await page.ArriveAsync("*/tests?*");
        await page.SeeHereAsync("site-tests");
    }

    [Theory]
    [MemberData(nameof(Phone))]
    public async Task A_screener_uploads_a_file_and_reaches_no_keys(bool phone)
    {
        var page = await SignInAsync(People.Screener, phone);
        await page.SeeAsync("/submissions/new", "upload");
        await page.SetInputFilesAsync("input[type=file]", Path.Combine(SourceTree.Root, "demo-data/examples/screens.csv"));
        await page.Locator("main form button[type=submit]").First.ClickAsync();
        await page.ArriveAsync(url => url.Contains("/submissions/", StringComparison.Ordinal)
            && !url.EndsWith("/new", StringComparison.Ordinal));
        await page.SeeHereAsync("submission");
        await page.SeeAsync("/submissions", "submissions");
        await page.GotoAsync("/access/keys");
        await page.SeeHereAsync("denied");
    }

    private Task<IPage> SignInAsync(string email, bool phone) =>
        SignedIn.OpenAsync(chromium, region.App, email, DemoPeople.Password, phone);

    /// <summary>The demonstration, served once for all of them; as large as the real one where pictures are kept.</summary>
    public sealed class Region(TestDatabase database) : IAsyncLifetime
    {
        public RegistryApp App { get; private set; } = null!;

        public async ValueTask InitializeAsync() => App = (await RegistryApp.StartWithDemonstrationAsync(
            database, Screen.Keep ? 3_000 : 300,
            settings: DemoPeople.Settings().Append(new("Demo:Enabled", "true")).ToDictionary())).Listen();

        public ValueTask DisposeAsync() => App.DisposeAsync();
    }
}
