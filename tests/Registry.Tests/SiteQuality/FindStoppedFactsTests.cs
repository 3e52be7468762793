using System.Globalization;
using System.Net;
using System.Text;
using Microsoft.Extensions.DependencyInjection;
using Registry.Records;
using Registry.Rules;
using Registry.SiteQuality;
using Registry.Tests.Intake;

namespace Registry.Tests.SiteQuality;

/// <summary>Births that arrive hide screens that stopped, and one way of sending hides another: each is judged by itself.</summary>
public sealed class FindStoppedFactsTests(TestDatabase database)
{
    [Fact]
    public async Task Screens_that_stopped_while_births_arrive_are_found_and_a_clinic_is_not_judged_by_births()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var moor = await bed.AddSiteAsync("moor", SiteKind.BirthCenter);
        await bed.SendAsync(Days(bed, "H", from: 100, births: 1, screens: 20), bed.Harbour);
        await bed.SendAsync(Days(bed, "M", from: 100, births: 1, screens: 5), moor); // on their way still
        await bed.SendAsync(Days(bed, "L", from: 100, births: 40, screens: 40), bed.Hill);
        var stopped = Assert.Single(await FindAsync(bed));
        Assert.Equal(("harbour", RowKind.Screening, bed.App.Today.AddDays(-19)), (stopped.Code, stopped.Kind, stopped.LastDay));
        Assert.Equal(4 * 81 / 365.0 * (19 - 7), stopped.Expected, 6);

        // A site that agreed to three weeks is not silent yet.
        await bed.ListAsync("update sites set arrival_days = 21 where code = 'harbour' returning 1");
        Assert.Empty(await FindAsync(bed));
        await bed.ListAsync("update sites set arrival_days = null where code = 'harbour' returning 1");

        using var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        Assert.Contains("▲ no screen since 6 Nov 2026",
            WebUtility.HtmlDecode(await client.GetStringAsync("/sites", IntakeBed.Ct)), StringComparison.Ordinal);
        var site = WebUtility.HtmlDecode(await client.GetStringAsync("/sites/harbour", IntakeBed.Ct));
        Assert.Contains("No screen since 6 Nov 2026: at the site's own number of infants a day about 11 were", site,
            StringComparison.Ordinal);
        Assert.DoesNotContain("No birth since", site, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_way_of_sending_that_fell_silent_is_seen_beside_one_that_goes_on()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        for (var day = 40; day >= 0; day--)
        {
            var born = bed.App.Today.AddDays(-day).ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);
            await bed.SendAsync($"kind,record_number,birth_date,sex\nbirth,C{day},{born},female\n", at: bed.Now.AddDays(-day));
            if (day % 2 == 0 && day > 20)
                await bed.SendAsync($$"""{"rows":[{"kind":"birth","record_number":"J{{day}}","birth_date":"{{born}}","sex":"female"}]}""",
                    format: SubmissionFormat.Json, at: bed.Now.AddDays(-day));
        }

        var feeds = await bed.App.Services.GetRequiredService<SilentFeeds>().OfSiteAsync(bed.Harbour, bed.App.Today, IntakeBed.Ct);
        Assert.Equal(["Csv 41 0 7 False", "Json 10 22 7 True"],
            feeds.Select(f => $"{f.Format} {f.Days} {f.Silence} {f.Allowed} {f.IsSilent}"));
        using var client = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        var page = WebUtility.HtmlDecode(await client.GetStringAsync("/sites/harbour", IntakeBed.Ct));
        Assert.Contains("quiet for 22 days, allowed are 7", page, StringComparison.Ordinal);

        // In the list of sites it is marked beside the name, until it is plainly given up.
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        Assert.Contains("#rhythm\">▲ Json silent 22 days</a>",
            WebUtility.HtmlDecode(await coordinator.GetStringAsync("/sites", IntakeBed.Ct)), StringComparison.Ordinal);
        Assert.True(new FeedRhythm("harbour", SubmissionFormat.Json, 10, default, 2, 7, 90).FellSilent);
        Assert.False(new FeedRhythm("harbour", SubmissionFormat.Json, 10, default, 2, 7, 91).FellSilent);
    }

    [Fact]
    public void A_way_of_sending_that_fell_silent_at_most_sites_is_no_sites_own_mark()
    {
        List<FeedRhythm> feeds =
            [.. Enumerable.Range(0, 6).Select(i => new FeedRhythm($"s{i}", SubmissionFormat.Json, 10, default, 2, 7, i < 4 ? 9 : 1))];
        List<SiteRhythm> rhythms =
            [.. feeds.Select(f => new SiteRhythm(SiteId.New(), f.Site, "", default(DateOnly), 9, 1, 1, 7, [], 0, null))];
        var most = SilentFeeds.Stand(feeds, rhythms, Policy.Default);
        Assert.True(most.Common);
        Assert.Empty(most.Codes);
        // Of two of six both are marked; one that sends nothing at all is called silent, and nothing else.
        var two = feeds.Select((f, i) => f with { Silence = i < 2 ? 9 : 1 }).ToList();
        Assert.Equal(["s0", "s1"], SilentFeeds.Stand(two, rhythms, Policy.Default).Codes.Order(StringComparer.Ordinal));
        rhythms[0] = rhythms[0] with { Silence = 9 };
        Assert.Equal(["s1"], SilentFeeds.Stand(two, rhythms, Policy.Default).Codes);
    }

    [Fact]
    public async Task A_site_that_sends_every_four_weeks_has_not_stopped_after_three()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        foreach (var daysAgo in new[] { 104, 76, 48, 20 })
            await bed.SendAsync(Days(bed, $"H{daysAgo}-", from: daysAgo + 27, births: daysAgo + 1, screens: daysAgo), bed.Harbour,
                at: bed.Now.AddDays(-daysAgo));
        Assert.Empty(await FindAsync(bed));
    }

    private static async Task<IReadOnlyList<StoppedFacts>> FindAsync(IntakeBed bed) =>
        await bed.App.Services.GetRequiredService<FindStoppedFacts>().FindAsync(
            await bed.App.Services.GetRequiredService<SilentSites>().RhythmsAsync(bed.App.Today, IntakeBed.Ct),
            bed.App.Today, IntakeBed.Ct);

    /// <summary>Four births a day until so many days ago, each screened on the next until so many days ago.</summary>
    private static string Days(IntakeBed bed, string prefix, int from, int births, int screens)
    {
        var csv = new StringBuilder("kind,record_number,birth_date,sex,ear,outcome,method,performed_at\n");
        for (var i = 0; i < 4 * (from - births + 1); i++)
        {
            var daysAgo = from - (i / 4);
            csv.Append(CultureInfo.InvariantCulture, $"birth,{prefix}{i},{bed.App.Today.AddDays(-daysAgo):yyyy-MM-dd},female,,,,\n");
            if (daysAgo > screens - 1 && daysAgo > 1)
                csv.Append(CultureInfo.InvariantCulture,
                    $"screening,{prefix}{i},,,right,pass,aabr,{bed.App.Today.AddDays(1 - daysAgo):yyyy-MM-dd}T09:00\n");
        }

        return csv.ToString();
    }
}
