using System.Text;
using Microsoft.EntityFrameworkCore;
using Microsoft.Playwright;
using Registry.Demo;
using Registry.Meeting;
using Registry.Records;
using Registry.Rules.Quality;
using Registry.SiteQuality;
using Registry.Tests.SiteQuality.Flags;
using UglyToad.PdfPig;

namespace Registry.Tests.Browser;

/// <summary>What comes out of the printer: printed to PDF, and read.</summary>
public sealed class PrintTests(ScreensTests.Region region, Chromium chromium) : IClassFixture<ScreensTests.Region>
{
    private static CancellationToken Ct => TestContext.Current.CancellationToken;

    public static TheoryData<string> Papers => ["A4", "Letter"];

    [Theory]
    [MemberData(nameof(Papers))]
    public async Task A_list_takes_a_page_for_each_13_with_its_head_on_each(string paper)
    {
        var page = await CoordinatorAsync();
        foreach (var (path, head, least) in new[] { ("/infants", "Responsible site", 25), ("/follow-up", "What and why", 1),
            ("/follow-up?tray=search_again&sheet=true", "What and why", 1) })
        {
            await page.GotoAsync(path);
            var numbers = await page.Locator("main tbody th[scope=row] a").AllInnerTextsAsync();
            Assert.InRange(numbers.Count, least, 100);
            var printed = await PrintAsync(page, paper);
            Assert.InRange(printed.Count, 1, (int)Math.Ceiling(numbers.Count / 12.5)); // 25 on two pages
            foreach (var phone in await page.Locator("main tbody a.dial").AllInnerTextsAsync())
                Assert.Contains(printed, text => text.Contains(Bare(phone), StringComparison.Ordinal));
            Assert.All(numbers, n => Assert.Contains(printed, text => text.Contains(Bare(n), StringComparison.Ordinal)));
            // The cautions below the list may fall on a page of their own.
            Assert.All(printed.Where(text => numbers.Any(n => text.Contains(Bare(n), StringComparison.Ordinal))),
                text => Assert.Contains(Bare(head), text, StringComparison.Ordinal));
            Assert.All(printed, text => Assert.DoesNotContain(Bare("Download"), text, StringComparison.Ordinal));
            Assert.All(printed, text => Assert.DoesNotContain(Bare("Apply"), text, StringComparison.Ordinal));
        }
    }

    [Theory]
    [MemberData(nameof(Papers))]
    public async Task The_report_of_a_year_takes_eight_pages_and_none_is_blank(string paper)
    {
        var page = await CoordinatorAsync();
        await page.GotoAsync("/reports");
        var lines = await page.Locator("main tbody th[scope=row]").AllInnerTextsAsync();
        var printed = await PrintAsync(page, paper);
        Assert.InRange(printed.Count, 1, 8);
        Assert.All(printed, text => Assert.True(text.Length > 200, $"A page says little: {text}"));
        Assert.Contains(Bare("National survey: Screening"), printed[0], StringComparison.Ordinal);
        var all = string.Concat(printed);
        Assert.All(lines, line => Assert.Contains(Bare(line), all, StringComparison.Ordinal));
    }

    /// <summary>The fullest there is: more flags and marks than are shown, with the longest sentences; and good news of every site that has
    /// any.</summary>
    [Theory]
    [MemberData(nameof(Papers))]
    public async Task The_report_of_a_site_takes_one_page_with_what_to_check_and_good_news(string paper)
    {
        await using (var db = region.App.OpenDb())
        {
            var site = await db.Sites.SingleAsync(s => s.Code == Places.LeakingSite, Ct);
            if (!await db.QualityFindings.AnyAsync(f => f.SiteId == site.Id, Ct))
            {
                var today = region.App.Today;
                db.QualityFindings.AddRange(new[]
                {
                    (SessionMeasure.OtherInvalid, CauseKind.Instrument), (SessionMeasure.NoSeal, CauseKind.Probe),
                    (SessionMeasure.Noise, CauseKind.Weekdays), (SessionMeasure.Early, CauseKind.EarlyTests),
                }.Select(f => FlagBed.Flag(site.Id, f.Item2 == CauseKind.Probe ? Places.LeakingProbe : "INS-02-1",
                    today.AddDays(-20), f.Item2, today.AddDays(-70), f.Item1)));
                await db.SaveChangesAsync(Ct);
            }
        }

        var page = await CoordinatorAsync();
        var good = 0;
        foreach (var place in Places.Birthing)
        {
            await page.GotoAsync($"/sites/{place.Code}/report");
            var printed = Assert.Single(await PrintAsync(page, paper));
            if (printed.Contains(Bare("Good news"), StringComparison.Ordinal)) good++;
            if (place.Code != Places.LeakingSite) continue;
            Assert.Contains(Bare("What to check first"), printed, StringComparison.Ordinal);
            Assert.Contains(Bare("tip changed"), printed, StringComparison.Ordinal);
            Assert.Contains(Bare("Missing results"), printed, StringComparison.Ordinal);
            Assert.Contains(Bare("Thank you for the"), printed, StringComparison.Ordinal);
            Assert.Contains(Bare("A refer is not a diagnosis"), printed, StringComparison.Ordinal);
        }

        Assert.True(good > 5, $"Good news of {good} sites.");
    }

    /// <summary>Two pages at most, with every topic and none of what only a screen can do.</summary>
    [Theory]
    [MemberData(nameof(Papers))]
    public async Task The_weekly_meeting_takes_two_pages(string paper)
    {
        var page = await CoordinatorAsync();
        await page.GotoAsync("/meeting");
        var printed = await PrintAsync(page, paper);
        Assert.InRange(printed.Count, 1, 2);
        var all = string.Concat(printed);
        foreach (var topic in Enum.GetValues<MeetingTopic>())
            Assert.Contains(Bare(MeetingWords.Of(topic)), all, StringComparison.Ordinal);
        Assert.DoesNotContain(Bare("The week before"), all, StringComparison.Ordinal);
    }

    [Fact]
    public async Task No_printed_table_is_wider_than_the_paper()
    {
        var page = await CoordinatorAsync();
        // Letter and A4 between margins of 14 mm.
        foreach (var path in new[]
        {
            "/infants", "/follow-up", "/reports", "/sites?by=site", "/", "/submissions", "/submissions/held", "/policy",
        })
        {
            await page.GotoAsync(path);
            await page.EmulateMediaAsync(new() { Media = Media.Print });
            await page.SetViewportSizeAsync(688, 1000);
            var wide = await page.EvaluateAsync<string[]>(
                "[...document.querySelectorAll('main .table')].filter(t => t.scrollWidth > t.clientWidth + 1)"
                    + ".map(t => `${t.getAttribute('aria-label')}: ${t.scrollWidth} of ${t.clientWidth}`)");
            Assert.True(wide.Length == 0, $"{path}: {string.Join("; ", wide)}");
            await page.EmulateMediaAsync(new() { Media = Media.Null });
            await page.SetViewportSizeAsync(1280, 900);
        }
    }

    private Task<IPage> CoordinatorAsync() => SignedIn.OpenAsync(
        chromium, region.App, DemoPeople.All.First(p => p.Role == Role.Coordinator).Email, DemoPeople.Password);

    /// <summary>The letters of each page, without what only sets them apart: a line breaks where the paper ends.</summary>
    private static async Task<IReadOnlyList<string>> PrintAsync(IPage page, string paper)
    {
        using var document = PdfDocument.Open(await page.PdfAsync(new() { Format = paper }));
        return [.. document.GetPages().Select(p => Bare(p.Text))];
    }

    private static string Bare(string text) => string.Concat(text.Normalize(NormalizationForm.FormKC).Where(char.IsLetterOrDigit));
}
