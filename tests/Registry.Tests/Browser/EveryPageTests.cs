using System.Text.RegularExpressions;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Microsoft.AspNetCore.Routing;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Playwright;
using Registry.Access;
using Registry.Records;
using Registry.Tests.Intake;

namespace Registry.Tests.Browser;

/// <summary>
/// Every page each role is led to by links, held against the rules of axe-core (WCAG 2.2 A and AA, and its good practices) on a phone
/// and, of those who see most, on a desk; in light and dark, with everything that folds unfolded. None speaks to people in codes.
/// </summary>
public sealed partial class EveryPageTests(ScreensTests.Region region, TestDatabase database, Chromium chromium)
    : IClassFixture<ScreensTests.Region>
{
    /// <summary>Reached by a link in a letter, by an answer, by what a night finds, or by a part of signing in; the first group without
    /// being signed in.</summary>
    private static readonly string[] ByNobody = ["/sign-in", "/sign-out", "/denied", "/problem/404", "/stop/none", "/password/none",
        "/setup/link/none", "/answer/none", "/ward/offline", "/sign-in/second-factor", "/sign-in/new-second-factor"];

    private static readonly string[] ByAnAnswer = ["sign-in/openid", "submissions/held/bulk/{id:guid}", "policy/drafts/{id:guid}",
        "policy/drafts/{id:guid}/infants", "entered/{id}", "reports/published/{id:guid}", "access/keys/{id:guid}",
        "sites/{code}/flags/{id:guid}",
        "sites/{code}/units/{kind}/{**name}"]; // from the tables of a site with equipment; one site is walked for all (ShowUnitTests)

    /// <summary>By an instrument, so that the manager's own site has one.</summary>
    private const string OneTest = "kind,record_number,birth_date,sex,ear,outcome,method,performed_at,instrument,probe\n"
        + "birth,ONE-1,2026-11-01,female,,,,,,\nscreening,ONE-1,2026-11-01,,right,pass,aabr,2026-11-02T09:00,I-1,P-1\n";

    public static TheoryData<Role> Roles => [.. Enum.GetValues<Role>()];

    [Theory]
    [MemberData(nameof(Roles))]
    public async Task Axe_finds_nothing_on_any_page_a_role_is_led_to(Role role)
    {
        var bed = await IntakeBed.OnAsync(region.App);
        var person = await bed.AddPersonAsync(role, Permissions.NeedsSite(role) ? bed.Harbour : null);
        await bed.SendAsync($"kind,record_number,birth_date,sex,mother_family_name\nbirth,{role},2026-08-01,female,Quist\n"
            + $"screening,{role},,,\n");
        await bed.SendAsync(OneTest);
        var page = await SignedIn.OpenAsync(chromium, bed.App, person.Email!);
        await using var ended = page.Context; // the program lives on, for the other roles
        var (seen, found) = (new HashSet<string>(), new List<string>());
        var waiting = new Queue<string>([Permissions.HomeOf(role)]);
        while (waiting.TryDequeue(out var path))
        {
            if (!seen.Add(Shape(path, role == Role.Coordinator))) continue;
            await page.GotoAsync(path);
            foreach (var link in await page.EvaluateAsync<string[]>(
                "[...document.querySelectorAll('a[href^=\"/\"]:not([download])')].map(a => a.getAttribute('href'))"))
                if (!NoPage().IsMatch(link)) waiting.Enqueue(link);
            // What the two see who see most, on a desk too; the others' pages are parts of theirs.
            found.AddRange(await LookAsync(page, path, role is Role.Coordinator or Role.Administrator ? [1280, 390] : [390]));
        }

        Assert.True(found.Count == 0, $"{found.Count} findings on {seen.Count} pages:\n" + string.Join('\n', found.Distinct()));
    }

    [Theory]
    [InlineData(Role.Coordinator, "/infants", "main tbody tr")]
    [InlineData(Role.Coordinator, "/follow-up", "main tbody tr th")]
    [InlineData(Role.Screener, "/ward", "main .ward li")]
    public async Task On_a_phone_the_places_are_one_line_and_the_first_child_is_seen_at_once(Role role, string path, string child)
    {
        var bed = await IntakeBed.OnAsync(region.App);
        var person = await bed.AddPersonAsync(role, Permissions.NeedsSite(role) ? bed.Harbour : null);
        await bed.SendAsync("kind,record_number,birth_date,sex,mother_family_name\n"
            + $"birth,W-1,{bed.App.Today.AddDays(-1):yyyy-MM-dd},female,Quist\n");
        var page = await SignedIn.OpenAsync(chromium, bed.App, person.Email!, phone: true);
        await using var ended = page.Context;
        await page.GotoAsync(path);
        var tops = await page.EvaluateAsync<int[]>(
            "[...document.querySelectorAll('.places a')].map(a => Math.round(a.getBoundingClientRect().top))");
        Assert.Single(tops.Distinct());
        var box = (await page.Locator(child).First.BoundingBoxAsync())!;
        Assert.InRange(box.Y + box.Height, 0, page.ViewportSize!.Height);
        Assert.Equal(1, await page.Locator(".places [aria-current]").CountAsync());

        // By keyboard, and without a script: the day is a menu of the browser's own.
        await page.Locator(".as-of summary").FocusAsync();
        await page.Keyboard.PressAsync("Enter");
        Assert.True(await page.Locator("#as-of").IsVisibleAsync());
        await page.Keyboard.PressAsync("Escape");
        Assert.False(await page.Locator("#as-of").IsVisibleAsync());
    }

    [Fact]
    public async Task Axe_finds_nothing_on_a_page_for_nobody()
    {
        var page = await chromium.OpenAsync(region.App.Address);
        await using var ended = page.Context;
        var found = new List<string>();
        foreach (var path in ByNobody)
        {
            await page.GotoAsync(path);
            found.AddRange(await LookAsync(page, path, [1280, 390]));
        }

        Assert.True(found.Count == 0, string.Join('\n', found));
    }

    /// <summary>What no link leads to is not looked at above: a new page is linked, or named here with a reason.</summary>
    [Fact]
    public async Task Links_lead_to_every_page()
    {
        await using var bed = await IntakeBed.StartWithRegionAsync(database);
        await bed.SendAsync(OneTest);
        var seen = new HashSet<string>();
        foreach (var role in Enum.GetValues<Role>())
        {
            using var client = await SignedIn.AsAsync(bed, role, Permissions.NeedsSite(role) ? bed.Harbour : null);
            var waiting = new Queue<string>([Permissions.HomeOf(role)]);
            var shapes = new HashSet<string>();
            while (waiting.TryDequeue(out var path))
            {
                if (!shapes.Add(Shape(path, false))) continue;
                seen.Add(path.Split('?', '#')[0]);
                using var answer = await client.GetAsync(path, IntakeBed.Ct);
                foreach (Match link in Links().Matches(await answer.Content.ReadAsStringAsync(IntakeBed.Ct)))
                    if (!NoPage().IsMatch(link.Groups[1].Value)) waiting.Enqueue(System.Net.WebUtility.HtmlDecode(link.Groups[1].Value));
            }
        }

        var pages = bed.App.Services.GetServices<EndpointDataSource>().SelectMany(s => s.Endpoints).OfType<RouteEndpoint>()
            .Where(e => e.Metadata.GetMetadata<PageActionDescriptor>() is not null)
            .Select(e => e.RoutePattern.RawText!.Trim('/')).Distinct();
        var alone = pages.Where(p => !ByAnAnswer.Contains(p) && !seen.Concat(ByNobody).Any(new Regex(
            "^/?" + Parameter().Replace(p, "[^/]+") + "$", RegexOptions.IgnoreCase).IsMatch));
        Assert.Equal("", string.Join('\n', alone));
    }

    private static async Task<IEnumerable<string>> LookAsync(IPage page, string path, int[] widths)
    {
        var found = new List<string>();
        await page.EvaluateAsync("for (const folded of document.querySelectorAll('details')) folded.open = true");
        found.AddRange((await PlainWords.LookAsync(page)).Select(line => $"{path}: {line}"));
        foreach (var width in widths)
        {
            await page.SetViewportSizeAsync(width, 844);
            found.AddRange((await Axe.LookAsync(page)).Select(line => $"{path}: {line}"));
        }

        return found;
    }

    /// <summary>One record, one submission, one site: the next looks like it.</summary>
    private static string Shape(string path, bool eachForm)
    {
        var shape = Ids().Replace(path.Split('?', '#')[0], "{id}");
        shape = Units().Replace(shape, "/units/{kind}/{name}");
        shape = SiteCode().Replace(Rows().Replace(shape, "/rows/{row}"), "$1{code}");
        return eachForm ? shape : Kinds().Replace(shape, "/enter/{kind}");
    }

    [GeneratedRegex("[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}")]
    private static partial Regex Ids();

    [GeneratedRegex("^(/sites/|/places/edit/)[^/]+")]
    private static partial Regex SiteCode();

    [GeneratedRegex("(?<=^/sites/[^/]+)/units/.+")]
    private static partial Regex Units();

    [GeneratedRegex("/rows/[0-9]+")]
    private static partial Regex Rows();

    [GeneratedRegex("/enter/[a-z_]+")]
    private static partial Regex Kinds();

    [GeneratedRegex("<a [^>]*href=\"(/[^\"]*)\"")]
    private static partial Regex Links();

    /// <summary>Files, the jobs' own pages, and the way out.</summary>
    [GeneratedRegex("^/(api|jobs|lib|css|examples|sign-out)|handler=|format=")]
    private static partial Regex NoPage();

    [GeneratedRegex(@"\{[^}]+\}")]
    private static partial Regex Parameter();
}
