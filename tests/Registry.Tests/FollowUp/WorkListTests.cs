using System.Net;
using System.Text.RegularExpressions;
using Registry.Records;
using Registry.Tests.Intake;

namespace Registry.Tests.FollowUp;

/// <summary>The work list: who stands where and before whom, what the page says of it, and how it goes from page to page.</summary>
public sealed partial class WorkListTests(TestDatabase database)
{
    private static readonly string[] First = ["Mar", "Quis", "Ber", "Tol", "Wen", "Hax", "Fig", "Jum", "Kra", "Vop"];
    private static readonly string[] Last = ["low", "ton", "by", "gart", "nessa", "ulk"];

    [Fact]
    public async Task Every_infant_is_in_one_place_the_counts_add_up_and_a_row_says_why()
    {
        await using var bed = await WorkBed.StartAsync(database);
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var page = WebUtility.HtmlDecode(await coordinator.GetStringAsync("/follow-up", IntakeBed.Ct));
        Assert.Equal(["Ada Quist", "Ada Berg", "Ada Marlow", "Ada Tarn"], WorkBed.Names(page));
        Assert.Equal(["Ada Lost"], await WorkBed.ShownAsync(coordinator, "?tray=search_again"));
        Assert.Contains("5 infants to follow up", page, StringComparison.Ordinal);
        Assert.Equal([4, 0, 0, 0, 1, 0, 0], Count().Matches(page).Select(m => int.Parse(m.Groups[1].Value, null)));
        Assert.Contains("next milestone can still be met: 47 days left, to 10 Jan 2027 · both ears (14 days forward)", page,
            StringComparison.Ordinal);
        Assert.Contains("""<a class="dial" href="tel:5550142">555-0142</a>""", page, StringComparison.Ordinal);
        Assert.Contains("Spanish", page, StringComparison.Ordinal);
        Assert.Contains("46 days old", page, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Filters_survive_from_page_to_page_and_nobody_is_shown_twice()
    {
        await using var bed = await WorkBed.StartAsync(database, rows: string.Concat(Enumerable.Range(0, 60)
            .Select(i => WorkBed.Family($"W-{i}", $"2026-10-{1 + i % 20:00}", $"{First[i % 10]}{Last[i / 10]}",
                phone: i % 2 == 0 ? "555-0100" : ""))));
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        foreach (var (filter, expected) in new[]
        {
            ("", 60), ("&phone=true", 30), ("&language=es&step=diagnosis", 60), ("&owner=mine", 0), ("&step=screening", 0),
        })
        {
            var seen = new List<string>();
            for (var path = "/follow-up?tray=call_today" + filter; path is not null;)
            {
                var page = await coordinator.GetStringAsync(path, IntakeBed.Ct);
                seen.AddRange(WorkBed.Names(page));
                path = NextPage().Match(page) is { Success: true } next ? WebUtility.HtmlDecode(next.Groups[1].Value) : null;
                foreach (var kept in filter.Split('&', StringSplitOptions.RemoveEmptyEntries))
                    Assert.True(path is null || path.Contains(kept, StringComparison.Ordinal), $"{path} without {kept}");
            }

            Assert.Equal(expected, seen.Count);
            Assert.Equal(expected, seen.Distinct().Count());
        }

        // What is no position of ours begins at the beginning.
        Assert.Equal(25, (await WorkBed.ShownAsync(coordinator, "?after=nonsense")).Length);
    }

    [Fact]
    public async Task The_file_is_a_call_sheet_and_both_reads_are_recorded()
    {
        await using var bed = await WorkBed.StartAsync(database);
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var file = await coordinator.GetStringAsync("/follow-up?handler=csv", IntakeBed.Ct);
        var lines = file.Split("\r\n", StringSplitOptions.RemoveEmptyEntries);
        Assert.Equal(5, lines.Length);
        Assert.StartsWith("call_today,Ada Quist,Ilse,W-2,2026-10-10,46 days old,diagnostic_evaluation,2027-01-10,referred_both_ears,",
            lines[1], StringComparison.Ordinal);
        Assert.Contains("555-0142,es,0,", lines[1], StringComparison.Ordinal);
        var id = await WorkBed.IdAsync(bed, "W-4");
        await coordinator.GetStringAsync($"/follow-up?infant={id}", IntakeBed.Ct);
        Assert.Equal(["csv 4", " 5"], await bed.ListAsync(
            "select coalesce(handler, '') || ' ' || infant_count from access_records where action = 'GET /follow-up' order by id"));
    }

    [Fact]
    public async Task A_site_has_its_own_next_steps_and_a_case_worker_what_they_see()
    {
        await using var bed = await WorkBed.StartAsync(database);
        await bed.SendAsync("kind,record_number,to_site,transferred_on\ntransfer,W-3,hill,2026-11-20\n");
        using var harbour = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        using var hill = await SignedIn.AsAsync(bed, Role.AudiologyClinic, bed.Hill);
        using var mere = await SignedIn.AsAsync(bed, Role.CaseWorker, null, "Mere");
        using var lind = await SignedIn.AsAsync(bed, Role.CaseWorker, null, "Lind");
        Assert.Equal(["Ada Quist", "Ada Marlow", "Ada Tarn"], await WorkBed.ShownAsync(harbour));
        Assert.Equal(["Ada Berg"], await WorkBed.ShownAsync(hill));
        Assert.Empty(await WorkBed.ShownAsync(mere));
        Assert.Equal(4, (await WorkBed.ShownAsync(lind)).Length);
    }

    [Fact]
    public async Task Work_is_taken_given_and_filtered_by_whose_it_is()
    {
        await using var bed = await WorkBed.StartAsync(database);
        using var first = await SignedIn.AsAsync(bed, Role.CaseWorker, null, "Lind");
        using var second = await SignedIn.AsAsync(bed, Role.CaseWorker, null, "Lind");
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        using var screener = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        var id = await WorkBed.IdAsync(bed, "W-1");
        async Task<HttpStatusCode> TakeAsync(HttpClient client)
        {
            using var answer = await SignedIn.SendFormAsync(client, "/follow-up?handler=Take", ("infant", id));
            return answer.StatusCode;
        }

        Assert.Equal(HttpStatusCode.NotFound, await TakeAsync(screener));
        Assert.Equal(HttpStatusCode.Redirect, await TakeAsync(first));
        Assert.Equal(["Ada Marlow"], await WorkBed.ShownAsync(first, "?owner=mine"));
        await TakeAsync(second); // it stays the other's
        Assert.Empty(await WorkBed.ShownAsync(second, "?owner=mine"));
        Assert.Equal(3, (await WorkBed.ShownAsync(second, "?owner=nobody")).Length);
        await TakeAsync(coordinator);
        Assert.Equal(["Ada Marlow"], await WorkBed.ShownAsync(coordinator, "?owner=mine"));
        Assert.Empty(await WorkBed.ShownAsync(first, "?owner=mine"));
    }

    [GeneratedRegex("""tray=[^>]*>[^<]+<strong>(\d+)</strong></a>""")]
    private static partial Regex Count();

    [GeneratedRegex("""rel="next" href="([^"]+)""")]
    private static partial Regex NextPage();
}
