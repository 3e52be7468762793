using System.Net;
using Microsoft.Extensions.DependencyInjection;
using Registry.Intake.HeldRows;
using Registry.Records;
using static Registry.Tests.Intake.HeldRows.WaitingRowsForms;

namespace Registry.Tests.Intake.HeldRows;

/// <summary>The list of waiting rows: what it counts, what its filters show, page by page and as CSV.</summary>
public sealed class WaitingRowsListTests(TestDatabase database)
{
    /// <summary>Seven waiting rows of two sites and three ages; one of them names a record number nobody may read in a list.</summary>
    private async Task<IntakeBed> SevenWaitAsync()
    {
        var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Header + Screens(3, "te-oae"), at: bed.Now.AddDays(-40));
        await bed.SendAsync(Header + Screens(2, "teoae"), at: bed.Now.AddDays(-3));
        await bed.SendAsync(Header + "screening,SECRET-9,,,,right,pass,te-oae,2026-11-02T09:15\n");
        await bed.SendAsync(Header + Screens(1, "teoae"), bed.Hill);
        return bed;
    }

    [Fact]
    public async Task It_counts_by_site_and_age()
    {
        await using var bed = await SevenWaitAsync();
        var overview = await bed.App.Services.GetRequiredService<ListWaitingRows>().OverviewAsync(new(null), IntakeBed.Ct);
        Assert.Equal(
            ["Harbour Hospital 1 2 0 3", "Hill Audiology 1 0 0 0"],
            overview.Sites.Select(s => $"{s.Name} {string.Join(' ', s.Rows.OrderBy(r => r.Key).Select(r => r.Value))}"));
    }

    [Fact]
    public async Task Each_filter_shows_its_rows_and_the_export_holds_no_value_of_a_row()
    {
        await using var bed = await SevenWaitAsync();
        var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        foreach (var (query, rows) in new[]
        {
            ("", 7), ("?outcome=held", 3), ("?outcome=rejected&age=older", 3), ("?age=today", 2), ("?site=hill", 1), ("?kind=birth", 0),
            ("?held=no_such_infant&site=harbour", 2),
            ("?site=elsewhere", 0), ("?outcome=accepted", 0), ("?outcome=nonsense", 0), ("?held=nonsense", 0), ("?age=nonsense", 0),
            ("?submission=nonsense", 0), ("?kind=nonsense", 0),
            ("?outcome=rejected&field=method&reason=" + Uri.EscapeDataString(
                "unknown code; it is one of: unknown, oae, teoae, dpoae, aabr, abr"), 4),
        })
        {
            var csv = await coordinator.GetStringAsync("/submissions/held" + (query.Length == 0 ? "?" : query + "&") + "handler=Csv",
                IntakeBed.Ct);
            Assert.True(rows == csv.Trim().Split('\n').Length - 1, $"{query}: {csv}");
            Assert.DoesNotContain("SECRET-9", csv, StringComparison.Ordinal);
        }
    }

    [Fact]
    public async Task A_filter_that_names_nothing_means_no_row_rather_than_every_row()
    {
        await using var bed = await SevenWaitAsync();
        var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        Assert.Contains("The filter names something that does not exist.",
            await coordinator.GetStringAsync("/submissions/held?site=elsewhere", IntakeBed.Ct), StringComparison.Ordinal);
        Assert.Contains("None of these rows waits any more.", await SaidAsync(
            coordinator, await PostAsync(coordinator, "/submissions/held?site=elsewhere&handler=Choose", null, "/submissions/new",
            ("all", "true"))), StringComparison.Ordinal);
        Assert.Equal(0, await bed.CountAsync("bulk_decisions"));
    }

    [Fact]
    public async Task It_shows_no_value_of_a_row_and_nothing_of_another_site()
    {
        await using var bed = await SevenWaitAsync();
        var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        Assert.DoesNotContain("SECRET-9", await coordinator.GetStringAsync("/submissions/held", IntakeBed.Ct), StringComparison.Ordinal);
        var manager = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Hill);
        Assert.DoesNotContain("Harbour", await manager.GetStringAsync("/submissions/held?site=harbour", IntakeBed.Ct),
            StringComparison.Ordinal);
    }

    [Fact]
    public async Task It_is_read_page_by_page_and_its_export_whole()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Header + Screens(120, "teoae"));
        await bed.SendAsync(Header + Screens(5, "te-oae"), at: bed.Now.AddDays(-9));
        var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var (path, seen, pages) = ("/submissions/held", new HashSet<string>(), 0);
        while (path is not null)
        {
            var page = WebUtility.HtmlDecode(await coordinator.GetStringAsync(path, IntakeBed.Ct));
            Assert.Contains("of 125 rows on this page", page, StringComparison.Ordinal);
            foreach (var part in page.Split("name=\"ticked\" value=\"")[1..]) Assert.True(seen.Add(part.Split('"')[0]));
            path = page.Contains("rel=\"next\"", StringComparison.Ordinal) ? page.Split("rel=\"next\" href=\"")[1].Split('"')[0] : null;
            pages++;
        }

        Assert.Equal((3, 125), (pages, seen.Count));
        Assert.Equal(126, (await coordinator.GetStringAsync("/submissions/held?handler=Csv", IntakeBed.Ct)).Trim().Split('\n').Length);
    }

    [Fact]
    public async Task A_position_that_is_none_of_ours_is_the_first_page()
    {
        await using var bed = await SevenWaitAsync();
        var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        // The last two are what a position looked like before, and one whose moment is no moment.
        foreach (var after in new[]
            { "nonsense", "cjk", "OTk5OTk5OTk5OTk5OTk5OTk5OTk5LzEvMQ", "WyI5OTk5OTk5OTk5OTk5OTk5OTk5OSIsIjEiLCIxIl0" })
            Assert.Equal(HttpStatusCode.OK, (await coordinator.GetAsync($"/submissions/held?after={after}", IntakeBed.Ct)).StatusCode);
    }
}
