using System.Globalization;
using System.Net;
using Microsoft.Extensions.DependencyInjection;
using Registry.Records;
using Registry.SiteQuality;
using Registry.Tests.Intake;

namespace Registry.Tests.SiteQuality;

/// <summary>A site that fell silent is named with what the verdict stands on, however long ago it was, and one that never sent is
/// too.</summary>
public sealed class SilentSitesTests(TestDatabase database)
{
    private const string Nothing = "kind,record_number,birth_date,sex\n";

    [Fact]
    public async Task Silence_is_measured_by_the_rhythm_of_the_site_itself()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        // Harbour sends daily until nine days ago; Hill, a clinic, every fortnight and last ten days ago; Moor last 500 days ago; Quay
        // never, since it was added.
        var moor = await bed.AddSiteAsync("moor", SiteKind.BirthCenter);
        await AddedAsync(bed, await bed.AddSiteAsync("quay", SiteKind.Midwife), 200);
        await bed.AddSiteAsync("cove", SiteKind.AudiologyClinic);
        for (var day = 40; day >= 9; day--) await SendAsync(bed.Harbour, day);
        for (var day = 94; day >= 10; day -= 14) await SendAsync(bed.Hill, day);
        await SendAsync(moor, 500);

        var rhythms = await bed.App.Services.GetRequiredService<SilentSites>().RhythmsAsync(bed.App.Today, IntakeBed.Ct);
        Assert.Equal(
            [
                // infants are born there; a clinic that never sent may have had nothing to send
                "quay silence  days 0 gaps   within 30 True",
                "moor silence 500 days 0 gaps   within 30 True",
                "hill silence 10 days 7 gaps 14 14 within 28 False",
                "harbour silence 9 days 32 gaps 1 1 within 7 True",
            ],
            rhythms.Select(r => string.Create(CultureInfo.InvariantCulture,
                $"{r.Code} silence {r.Silence} days {r.Days} gaps {r.TypicalGap} {r.UsualGap} within {r.ExpectedWithin} {r.IsSilent}")));

        // And the table says so beside the name, also of sites without a test; their own pages say what it stands on.
        using var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var page = WebUtility.HtmlDecode(await client.GetStringAsync("/sites", IntakeBed.Ct));
        Assert.Contains("▲ silent from the beginning", page, StringComparison.Ordinal);
        Assert.Contains("▲ silent 500 days", page, StringComparison.Ordinal);
        foreach (var (site, grounds) in new[]
        {
            ("quay", "nothing was ever received in the 200 days since it was added or opened; 30 days are allowed"),
            ("moor", "500 days ago"), ("harbour", "32 days with a submission in 400 days"),
        })
            Assert.Contains(grounds, WebUtility.HtmlDecode(await client.GetStringAsync($"/sites/{site}", IntakeBed.Ct)),
                StringComparison.Ordinal);

        Task<SubmissionId> SendAsync(SiteId site, int daysAgo) => bed.SendAsync(
            Nothing + $"birth,{daysAgo},{bed.App.Today.AddDays(-daysAgo):yyyy-MM-dd},female\n", site, at: bed.Now.AddDays(-daysAgo));
    }

    [Fact]
    public async Task A_site_that_opened_lately_is_not_silent_yet()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await AddedAsync(bed, await bed.AddSiteAsync("weir", SiteKind.Hospital), 200);
        foreach (var (opened, silent) in new[] { (31, true), (30, false), (0, false) })
        {
            var day = bed.App.Today.AddDays(-opened).ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);
            await bed.ListAsync($"update sites set open_from = '{day}' where code = 'weir' returning 1");
            var weir = (await bed.App.Services.GetRequiredService<SilentSites>().RhythmsAsync(bed.App.Today, IntakeBed.Ct))
                .Single(r => r.Code == "weir");
            Assert.Equal(((int?)opened, silent), (weir.DaysHere, weir.IsSilent));
        }

        using var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var page = WebUtility.HtmlDecode(await client.GetStringAsync("/sites/weir", IntakeBed.Ct));
        Assert.Contains("How often it sends", page, StringComparison.Ordinal);
        Assert.Contains("nothing was ever received in the 0 days since it was added or opened; 30 days are allowed", page,
            StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_site_that_agreed_to_send_late_is_not_silent_before_that()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        foreach (var daysAgo in new[] { 42, 41, 40 })
            await bed.SendAsync(Nothing + $"birth,{daysAgo},2026-10-01,female\n", bed.Harbour, at: bed.Now.AddDays(-daysAgo));
        Assert.Equal("40 of 30 True", await HarbourAsync());
        await bed.ListAsync("update sites set arrival_days = 45 where code = 'harbour' returning 1");
        Assert.Equal("40 of 45 False", await HarbourAsync()); // three days make no rhythm
        await bed.SendAsync(Nothing + "birth,43,2026-10-01,female\n", bed.Harbour, at: bed.Now.AddDays(-43));
        Assert.Equal("40 of 45 False", await HarbourAsync()); // four do
        var feed = Assert.Single(await bed.App.Services.GetRequiredService<SilentFeeds>()
            .OfSiteAsync(bed.Harbour, bed.App.Today, IntakeBed.Ct));
        Assert.Equal((45, false), (feed.Allowed, feed.IsSilent));

        async Task<string> HarbourAsync() => (await bed.App.Services.GetRequiredService<SilentSites>()
            .RhythmsAsync(bed.App.Today, IntakeBed.Ct)).Where(r => r.Id == bed.Harbour)
            .Select(r => $"{r.Silence} of {r.ExpectedWithin} {r.IsSilent}").Single();
    }

    /// <summary>The history of the site begins so many days ago.</summary>
    private static Task<int> AddedAsync(IntakeBed bed, SiteId site, int daysAgo) => bed.App.AsOwnerAsync(
        $"insert into site_changes (site_id, at, after) values ('{site.Value}', '{bed.Now.AddDays(-daysAgo):O}', '{{}}')");

    [Fact]
    public async Task Silence_that_most_sites_share_is_said_once_and_marks_only_who_is_far_beyond_the_others()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var silent = new List<SiteId> { bed.Harbour, bed.Hill };
        for (var i = 0; i < 4; i++) silent.Add(await bed.AddSiteAsync($"cove-{i}", SiteKind.Hospital));
        // Six of seven sent daily and stopped 12 days ago, all at once; one of them 90 days ago. The last goes on.
        var quay = await bed.AddSiteAsync("quay", SiteKind.Hospital);
        foreach (var (site, last) in silent.Select((s, i) => (s, i == 0 ? 90 : 12)).Append((quay, 0)))
        {
            for (var day = last + 6; day >= last; day--)
                await bed.SendAsync(Nothing + $"birth,{site}{day},{bed.App.Today.AddDays(-day):yyyy-MM-dd},female\n", site,
                    at: bed.Now.AddDays(-day));
        }

        using var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var page = WebUtility.HtmlDecode(await client.GetStringAsync("/sites", IntakeBed.Ct));
        Assert.Contains("▲ 6 sites, most of those that send, have been silent for longer than usual", page, StringComparison.Ordinal);
        Assert.Contains("▲ silent 90 days", page, StringComparison.Ordinal);
        Assert.DoesNotContain("▲ silent 12 days", page, StringComparison.Ordinal);
        Assert.Equal(5, page.Split("silent 12 days").Length - 1);
    }
}
