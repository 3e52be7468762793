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
        // never.
        var moor = await bed.AddSiteAsync("moor", SiteKind.BirthCenter);
        await bed.AddSiteAsync("quay", SiteKind.Midwife);
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
            ("quay", "infants are born here, and nothing was ever received"), ("moor", "500 days ago"),
            ("harbour", "32 days with a submission in 400 days"),
        })
            Assert.Contains(grounds, WebUtility.HtmlDecode(await client.GetStringAsync($"/sites/{site}", IntakeBed.Ct)),
                StringComparison.Ordinal);

        Task<SubmissionId> SendAsync(SiteId site, int daysAgo) => bed.SendAsync(
            Nothing + $"birth,{daysAgo},{bed.App.Today.AddDays(-daysAgo):yyyy-MM-dd},female\n", site, at: bed.Now.AddDays(-daysAgo));
    }
}
