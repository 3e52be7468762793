using System.Net;
using Registry.Records;
using Registry.Tests.Intake;
using Registry.Tests.SiteQuality.Flags;

namespace Registry.Tests.SiteQuality.Equipment;

/// <summary>A site's instruments and probes as its tests name them, and what was done to them.</summary>
public sealed class RecordEventTests(TestDatabase database)
{
    private const string Rows =
        """
        kind,record_number,birth_date,birth_time,sex,ear,outcome,method,performed_at,instrument,probe,screener
        birth,H-1,2026-09-01,08:00,female,,,,,,,
        screening,H-1,,,,right,pass,teoae,2026-09-02T10:00,I-1,P9,Ines Quill
        screening,H-1,,,,left,pass,teoae,2026-09-02T10:05,I-1,P9,Ines Quill
        birth,H-2,2026-11-01,08:00,female,,,,,,,
        screening,H-2,,,,right,pass,teoae,2026-11-02T10:00,I-1,P9,Ines Quill

        """;

    [Fact]
    public async Task Equipment_has_its_days_of_use_and_events_that_are_marked_in_the_chart_of_a_flag()
    {
        await using var bed = await StartAsync();
        var id = await FlagBed.AddAsync(bed, FlagBed.Flag(bed.Harbour, onset: new(2026, 11, 1)));
        using var screener = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        using var manager = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        await DoneAsync(screener, "probe/tip_changed", "P9", "2026-11-05", "Wax in the port");
        await DoneAsync(manager, "instrument/calibrated", "I-1", "2025-11-30");
        await DoneAsync(manager, "instrument/lent_out", "I-7", "2026-11-01");
        await DoneAsync(manager, "screener/competency_checked", "Ines Quill", "2026-10-05");
        var page = WebUtility.HtmlDecode(await manager.GetStringAsync("/sites/harbour/equipment", IntakeBed.Ct));
        foreach (var said in new[]
        {
            "2 Sep 2026", "2 Nov 2026", "30 Nov 2025", "30 Nov 2026",
                "Probe P9: tip changed: Wax in the port", "Instrument I-7: lent out", "away",
            "Screener Ines Quill, Competency checked", "Calibration is due 12 months after",
        }) Assert.Contains(said, page, StringComparison.Ordinal);
        // Elsewhere a screener is a pseudonym; a screener sees no colleague's competency.
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var outside = await coordinator.GetStringAsync("/sites/harbour/equipment", IntakeBed.Ct);
        Assert.Contains("Competency checked", outside, StringComparison.Ordinal);
        Assert.DoesNotContain("Ines Quill", outside, StringComparison.Ordinal);
        Assert.DoesNotContain("Competency checked", await screener.GetStringAsync("/sites/harbour/equipment", IntakeBed.Ct),
            StringComparison.Ordinal);

        // The mark stands in the drawing, in its words and in the table beside it.
        var flag = WebUtility.HtmlDecode(await manager.GetStringAsync($"/sites/harbour/flags/{id}", IntakeBed.Ct));
        Assert.Contains("<g class=\"mark\" role=\"img\" aria-label=\"1: 5 Nov 2026: Probe P9: tip changed\"", flag,
            StringComparison.Ordinal);
        Assert.Contains("<td>5 Nov 2026: Probe P9: tip changed</td>", flag, StringComparison.Ordinal);
        Assert.DoesNotContain("I-1: calibrated", flag, StringComparison.Ordinal); // another unit's
        Assert.Contains("✓ Done on 5 Nov 2026: Probe P9: tip changed.", flag, StringComparison.Ordinal);
        Assert.True(flag.IndexOf("Exchange the probe", StringComparison.Ordinal)
            < flag.IndexOf("Look at the probe", StringComparison.Ordinal));

        // The site's own weeks have it too, with what was done to the others, and every point still leads to its tests.
        using (await SignedIn.SendFormAsync(manager, $"/sites/harbour/flags/{id}",
            ("Form.Acts", "0"), ("Form.Act", "acted"), ("Form.Day", "2026-11-07"), ("Form.Words", "Rinsed the port")))
        {
        }

        var site = WebUtility.HtmlDecode(await manager.GetStringAsync("/sites/harbour?days=test", IntakeBed.Ct));
        foreach (var mark in new[]
        {
            "1 Nov 2026: Instrument I-7: lent out", "5 Nov 2026: Probe P9: tip changed", "7 Nov 2026: Probe P9, Rinsed the port",
        })
        {
            Assert.True(site.Split($"<title>{mark}</title>").Length > 2, $"{mark} is not in both drawings.");
            Assert.True(site.Split($"<li>{mark}</li>").Length > 2, $"{mark} is not said beneath both.");
        }

        Assert.Contains("/sites/harbour/tests?from=2025-11-26&to=2026-11-25&show=first_refer&by=week&unit=2026-11-02", site,
            StringComparison.Ordinal);
        // Whoever may not see flags sees what was done to equipment alone.
        var screened = WebUtility.HtmlDecode(await screener.GetStringAsync("/sites/harbour?days=test", IntakeBed.Ct));
        Assert.Contains("Probe P9: tip changed</title>", screened, StringComparison.Ordinal);
        Assert.DoesNotContain("Rinsed", screened, StringComparison.Ordinal);
        Assert.DoesNotContain("Competency", screened, StringComparison.Ordinal);
        Assert.Empty(await bed.ListAsync("select 1 from equipment_events where words like '%Wax%' or words not like 'enc:%'"));
        Assert.Equal(4, await bed.CountAsync("access_records where kind = 'equipment_recorded'"));
        var csv = (await manager.GetStringAsync("/sites/harbour/equipment?handler=Csv", IntakeBed.Ct)).Trim().Split("\r\n");
        Assert.Equal(4, csv.Length);
        Assert.Contains("harbour,instrument,I-1,2026-09-02,2026-11-02,3,2025-11-30,2026-11-30,no", csv);
    }

    [Fact]
    public async Task What_was_borrowed_has_its_origin_at_the_borrower_and_is_away_when_it_was_given_back()
    {
        await using var bed = await StartAsync();
        using var manager = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        await DoneAsync(manager, "instrument/borrowed", "I-1", "2026-08-30", "From the hill");
        await DoneAsync(manager, "instrument/calibrated", "I-1", "2025-10-30");
        var page = WebUtility.HtmlDecode(await manager.GetStringAsync("/sites/harbour/equipment", IntakeBed.Ct));
        Assert.Contains("Instrument I-1: borrowed: From the hill", page, StringComparison.Ordinal);
        Assert.DoesNotContain(">away<", page, StringComparison.Ordinal);
        Assert.Contains("▲ over since 30 Oct 2026", page, StringComparison.Ordinal);
        await DoneAsync(manager, "instrument/given_back", "I-1", "2026-11-20");
        Assert.Contains(">away<", await manager.GetStringAsync("/sites/harbour/equipment", IntakeBed.Ct), StringComparison.Ordinal);
        // Its page at the borrower says since when it is there.
        Assert.Contains("30 Aug 2026: Instrument I-1: borrowed", WebUtility.HtmlDecode(await manager.GetStringAsync(
            "/sites/harbour/units/instrument/I-1?from=2026-08-01", IntakeBed.Ct)), StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_mistake_is_taken_back_by_who_made_it_and_the_same_sent_twice_is_one()
    {
        await using var bed = await StartAsync();
        using var screener = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        using var colleague = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        await DoneAsync(screener, "probe/checked", "P9", "2026-11-10");
        await DoneAsync(screener, "probe/checked", "P9", "2026-11-10");
        var id = Assert.Single(await bed.ListAsync("select id from equipment_events"));
        using (var refused = await SignedIn.SendFormAsync(colleague, "/sites/harbour/equipment?handler=TakeBack", ("id", id)))
            Assert.Contains("Only who entered it", await refused.Content.ReadAsStringAsync(IntakeBed.Ct), StringComparison.Ordinal);
        Assert.Equal(1, await bed.CountAsync("equipment_events where taken_back_at is null"));
        using (var taken = await SignedIn.SendFormAsync(screener, "/sites/harbour/equipment?handler=TakeBack", ("id", id)))
            Assert.Equal(HttpStatusCode.Redirect, taken.StatusCode);
        Assert.Equal(0, await bed.CountAsync("equipment_events where taken_back_at is null"));
        Assert.Contains("Nothing was entered yet", await screener.GetStringAsync("/sites/harbour/equipment", IntakeBed.Ct),
            StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("Choose what happened", "probe/dropped", "P9", "2026-11-10")]
    [InlineData("Choose what happened", "screener/calibrated", "P9", "2026-11-10")]
    [InlineData("Choose what happened", "", "P9", "2026-11-10")]
    [InlineData("Give the name or number", "probe/checked", " ", "2026-11-10")]
    [InlineData("Give the day it happened", "probe/checked", "P9", "2026-11-26")]
    [InlineData("Give the day it happened", "probe/checked", "P9", "yesterday")]
    [InlineData("of a screener only the manager", "screener/competency_checked", "Ines Quill", "2026-11-10")]
    public async Task What_is_missing_or_not_theirs_is_said_and_nothing_is_kept(string says, string what, string name, string day)
    {
        await using var bed = await StartAsync();
        using var screener = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        using var sent = await SendAsync(screener, "harbour", what, name, day);
        Assert.Equal(HttpStatusCode.OK, sent.StatusCode);
        Assert.Contains(says, WebUtility.HtmlDecode(await sent.Content.ReadAsStringAsync(IntakeBed.Ct)), StringComparison.Ordinal);
        Assert.Equal(0, await bed.CountAsync("equipment_events"));
    }

    [Fact]
    public async Task Another_sites_equipment_is_neither_shown_nor_written_nor_taken_back()
    {
        await using var bed = await StartAsync();
        using var manager = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        await DoneAsync(manager, "probe/checked", "P9", "2026-11-10");
        var id = Assert.Single(await bed.ListAsync("select id from equipment_events"));
        using var other = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Hill);
        foreach (var site in new[] { "harbour", "nowhere" })
        {
            Assert.Equal(HttpStatusCode.NotFound, (await other.GetAsync($"/sites/{site}/equipment", IntakeBed.Ct)).StatusCode);
            Assert.Equal(HttpStatusCode.NotFound, (await other.GetAsync($"/sites/{site}/equipment?handler=Csv", IntakeBed.Ct)).StatusCode);
            using var sent = await SendAsync(other, site, "probe/checked", "P9", "2026-11-11");
            Assert.Equal(HttpStatusCode.NotFound, sent.StatusCode);
        }

        // The right id at the own site is nobody's.
        using (var taken = await SignedIn.SendFormAsync(other, "/sites/hill/equipment?handler=TakeBack", ("id", id)))
            Assert.Equal(HttpStatusCode.OK, taken.StatusCode);
        await other.GetAsync($"/sites/hill/equipment?handler=TakeBack&id={id}", IntakeBed.Ct);
        using (var bare = await manager.PostAsync("/sites/harbour/equipment?handler=TakeBack",
            new FormUrlEncodedContent([new("id", id)]), IntakeBed.Ct))
            Assert.Equal(HttpStatusCode.BadRequest, bare.StatusCode);
        Assert.Equal(1, await bed.CountAsync("equipment_events where taken_back_at is null"));
    }

    private async Task<IntakeBed> StartAsync()
    {
        var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Rows);
        return bed;
    }

    private static Task<HttpResponseMessage> SendAsync(
        HttpClient client, string site, string what, string name, string day, string words = "") =>
        SignedIn.SendFormAsync(client, $"/sites/{site}/equipment", ("Form.What", what), ("Form.Name", name), ("Form.Day", day),
            ("Form.Words", words));

    private static async Task DoneAsync(HttpClient client, string what, string name, string day, string words = "")
    {
        using var sent = await SendAsync(client, "harbour", what, name, day, words);
        Assert.Equal(HttpStatusCode.Redirect, sent.StatusCode);
    }
}
