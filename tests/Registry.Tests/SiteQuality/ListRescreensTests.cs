using System.Net;
using System.Text.RegularExpressions;
using Microsoft.Extensions.DependencyInjection;
using Registry.Records;
using Registry.Rules;
using Registry.Rules.Quality;
using Registry.SiteQuality;
using Registry.Tests.Intake;
using Registry.Tests.SiteQuality.Flags;

namespace Registry.Tests.SiteQuality;

/// <summary>The tests behind rescreens, as the nightly comparison counts them.</summary>
public sealed partial class ListRescreensTests(TestDatabase database)
{
    private const string Head = "kind,record_number,birth_date,birth_time,sex,ear,outcome,reason,method,performed_at,instrument\n";

    private const string Mothers = "birth_date,sex,mother_birth_date,mother_given_name,mother_family_name";

    [Fact]
    public async Task A_number_of_rescreens_opens_as_many_infants()
    {
        await using var bed = await StartAsync();
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        // R1 with both ears, R2 with one; what was tried without a result, repeated or came later is none.
        Assert.Equal((3, 2), await CountAsync(coordinator, "rescreens"));
        Assert.Equal((1, 1), await CountAsync(coordinator, "rescreen_refer"));
        Assert.Equal((1, 1), await CountAsync(coordinator, "rescreens&by=instrument&unit=I2"));
        Assert.Equal((0, 0), await CountAsync(coordinator, "rescreens", "2026-10-01", "2026-10-13"));
        Assert.Equal((2, 1), await CountAsync(coordinator, "rescreens", "2026-10-14", "2026-10-14"));
        Assert.Equal((3, 2), await CountAsync(coordinator, "rescreens&days=birth", "2026-10-01", "2026-10-01"));
    }

    [Fact]
    public async Task A_flag_of_rescreens_opens_the_tests_behind_it()
    {
        await using var bed = await StartAsync();
        await FlagBed.AddAsync(bed, FlagBed.Flag(bed.Harbour, "I2", found: new(2026, 11, 20), cause: CauseKind.Instrument,
            onset: new(2026, 10, 1), measure: SessionMeasure.RescreenReferred));
        using var manager = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        var flag = (await bed.ListAsync("select id from quality_findings"))[0];
        var page = WebUtility.HtmlDecode(await manager.GetStringAsync($"/sites/harbour/flags/{flag}", IntakeBed.Ct));
        var href = Regex.Match(page, "href=\"(/sites/harbour/tests[^\"]+)\"").Groups[1].Value;
        Assert.Contains("show=rescreen_refer", href, StringComparison.Ordinal);
        Assert.Equal((1, 1), Count(await manager.GetStringAsync(href, IntakeBed.Ct)));

        // What it counts is said with the number: on its page, in the list of flags and on the site.
        Assert.Matches("<dt>Seen since</dt><dd>.*<small>rescreens</small></dd>", page);
        await FlagBed.AddAsync(bed, FlagBed.Flag(bed.Harbour, "P9", measure: SessionMeasure.NoSeal));
        foreach (var path in new[] { "/flags", "/sites/harbour" })
        {
            var list = await manager.GetStringAsync(path, IntakeBed.Ct);
            Assert.Matches("data-th=\"Seen since\">(?:(?!</td>).)*<small>rescreens</small>", list);
            Assert.Matches("data-th=\"Seen since\">(?:(?!</td>).)*<small>first sessions</small>", list);
        }
    }

    [Fact]
    public async Task As_of_a_past_day_it_knows_what_was_known_then()
    {
        await using var bed = await StartAsync();
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        await bed.SendAsync("kind,action,record_number,ear,outcome,method,performed_at,instrument\n"
            + "screening,correct,R2,right,pass,teoae,2026-10-15T09:00,I2\n");
        Assert.Equal((0, 0), await CountAsync(coordinator, "rescreen_refer"));
    }

    [Fact]
    public async Task The_first_attempt_that_the_first_session_does_not_take_begins_the_rescreen()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        // R1: two hours after the session's last test, five after its first. R2: one sitting goes on beyond four hours. R3: at another
        // site, an hour later.
        const string mother = "2026-10-01,female,1994-03-05,Ada,Marlow";
        await bed.SendAsync($"kind,record_number,{Mothers}\nbirth,R3,{mother}\n", bed.Harbour);
        await bed.SendAsync(Head + Born("R1") + Born("R2")
            + Test("R1", "right", "refer", "02T08:00") + Test("R1", "left", "pass", "02T11:00")
            + Test("R1", "right", "pass", "02T13:00")
            + Test("R1", "right", "refer", "14T09:00")
            + Test("R2", "right", "refer", "02T08:00") + Test("R2", "left", "pass", "02T11:50")
            + Test("R2", "left", "pass", "02T12:10")
            + Test("R3", "right", "refer", "02T08:00") + Test("R3", "left", "pass", "02T08:10"), bed.Harbour);
        await bed.SendAsync($"kind,record_number,{Mothers},ear,outcome,method,performed_at\n"
            + $"screening,H3,{mother},right,refer,teoae,2026-10-02T09:00\n", bed.Hill);
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        Assert.Equal((1, 1), await CountAsync(coordinator, "rescreens"));
        Assert.Equal((0, 0), await CountAsync(coordinator, "rescreen_refer"));
        Assert.Equal((1, 1), Count(await coordinator.GetStringAsync(
            "/sites/hill/tests?from=2026-10-01&to=2026-11-25&show=rescreen_refer", IntakeBed.Ct)));
        var cells = await bed.App.Services.GetRequiredService<ReadCells>().SinceAsync(new(2026, 1, 1), Policy.Default, IntakeBed.Ct);
        Assert.Equal(["harbour 2026-10-02 13h 0 of 1", "hill 2026-10-02 9h 1 of 1"], cells.Where(c => c.Rescreens)
            .Select(c => $"{c.Site} {c.Day:yyyy-MM-dd} {c.Hour}h {c.Referred} of {c.Valid}").Order(StringComparer.Ordinal));
    }

    [Fact]
    public async Task Another_site_is_shown_none()
    {
        await using var bed = await StartAsync();
        var other = await bed.AddSiteAsync("elsewhere", SiteKind.Hospital);
        using var stranger = await SignedIn.AsAsync(bed, Role.SiteManager, other);
        Assert.Equal(HttpStatusCode.NotFound,
            (await stranger.GetAsync("/sites/harbour/tests?show=rescreens", IntakeBed.Ct)).StatusCode);
        Assert.Equal((0, 0), Count(await stranger.GetStringAsync("/sites/elsewhere/tests?show=rescreens", IntakeBed.Ct)));
    }

    private async Task<IntakeBed> StartAsync()
    {
        var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Head + Born("R1") + Born("R2") + Born("R3")
            + Test("R1", "right", "refer", "02T09:00") + Test("R1", "left", "pass", "02T09:10")
            + Test("R1", "right", "no_valid_result", "14T09:00") + Test("R1", "right", "pass", "14T09:20")
            + Test("R1", "right", "refer", "14T09:40") + Test("R1", "left", "pass", "14T09:50") + Test("R1", "right", "refer", "20T09:00")
            + Test("R2", "right", "refer", "02T09:00") + Test("R2", "right", "refer", "15T09:00", "I2")
            + Test("R3", "right", "pass", "02T09:00") + Test("R3", "right", "refer", "16T09:00"), bed.Harbour);
        return bed;
    }

    private static string Born(string number) => $"birth,{number},2026-10-01,08:00,female,,,,,,\n";

    private static string Test(string number, string ear, string outcome, string at, string instrument = "I1") =>
        $"screening,{number},,,,{ear},{outcome},{(outcome == "no_valid_result" ? "noise" : "")},teoae,2026-10-{at},{instrument}\n";

    private static async Task<(int Tests, int Infants)> CountAsync(
        HttpClient client, string show, string from = "2026-10-01", string to = "2026-11-25") =>
        Count(await client.GetStringAsync($"/sites/harbour/tests?from={from}&to={to}&show={show}", IntakeBed.Ct));

    private static (int Tests, int Infants) Count(string page)
    {
        var match = Said().Match(page);
        var counts = (int.Parse(match.Groups[1].Value, null), int.Parse(match.Groups[2].Value, null));
        Assert.Equal(counts.Item1, Regex.Count(page, "<th scope=\"row\" class=\"date\"><a href=\"/infants/"));
        return counts;
    }

    [GeneratedRegex(@"(\d+) tests? of one ear, (\d+) infant")]
    private static partial Regex Said();
}
