using System.Globalization;
using System.Net;
using System.Text.RegularExpressions;
using Registry.Demo;
using Registry.Records;
using Registry.Tests.Intake;

namespace Registry.Tests.SiteQuality;

public sealed partial class CompareWithLikeTests(TestDatabase database)
{
    [Fact]
    public async Task A_site_is_shown_beside_sites_like_it_and_the_others_together_and_none_is_named()
    {
        await using var bed = await IntakeBed.StartWithRegionAsync(database);
        await using var db = bed.App.OpenDb();
        var client = await SignedIn.AsAsync(bed, Role.SiteManager, db.Sites.Single(s => s.Code == Places.LeakingSite).Id);
        var page = WebUtility.HtmlDecode(await client.GetStringAsync($"/sites/{Places.LeakingSite}", IntakeBed.Ct));
        Assert.Contains("Beside the 4 others of its care and volume", page, StringComparison.Ordinal);
        Assert.Contains("Other sites", page, StringComparison.Ordinal);
        Assert.All(Places.Birthing.Where(p => p.Code != Places.LeakingSite), p =>
            Assert.DoesNotContain(p.Name, page, StringComparison.Ordinal));
    }

    /// <summary>The others' counts and the site's own add up to the region's.</summary>
    [Fact]
    public async Task The_others_do_not_hold_the_site_itself()
    {
        await using var bed = await IntakeBed.StartWithRegionAsync(database);
        var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var (region, site) = (Infants(await client.GetStringAsync("/sites", IntakeBed.Ct)),
            Infants(await client.GetStringAsync($"/sites/{Places.LeakingSite}", IntakeBed.Ct)));
        Assert.True(region[^1] > 0 && site[0] > 0, $"{region[^1]} {site[0]}");
        Assert.Equal(region[^1], site[0] + site[1]);
    }

    /// <summary>Every cell of the column, the foot last.</summary>
    private static List<int> Infants(string page) => [.. Cell().Matches(page).Select(m =>
        int.Parse(m.Groups[1].Value, NumberStyles.AllowThousands, CultureInfo.InvariantCulture))];

    [GeneratedRegex("data-th=\"Infants tested\" class=\"number\">(?:<a [^>]*>)?([0-9,]+)<")]
    private static partial Regex Cell();
}
