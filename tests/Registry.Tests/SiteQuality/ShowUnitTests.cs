using System.Net;
using System.Text.RegularExpressions;
using Registry.Records;
using Registry.SiteQuality;
using Registry.Tests.Intake;
using Registry.Tests.SiteQuality.Flags;

namespace Registry.Tests.SiteQuality;

/// <summary>Every instrument, probe and screener of a site has its weeks, flagged or not; a screener's name stands in no address.</summary>
public sealed class ShowUnitTests(TestDatabase database)
{
    private const string Odd = "A/1 50%ü?#";

    private const string Rows =
        $"""
        kind,record_number,birth_date,birth_time,sex,ear,outcome,reason,method,performed_at,instrument,probe,screener
        birth,H-1,2026-09-01,08:00,female,,,,,,,,
        screening,H-1,,,,right,no_valid_result,no_seal,teoae,2026-09-02T10:00,I-1,P9,Ines Quill
        screening,H-1,,,,right,refer,,teoae,2026-09-02T10:05,I-1,P9,Ines Quill
        birth,H-2,2026-11-01,08:00,female,,,,,,,,
        screening,H-2,,,,right,pass,,teoae,2026-11-02T10:00,I-1,P9,Ines Quill
        birth,H-3,2026-11-01,08:00,female,,,,,,,,
        screening,H-3,,,,right,pass,,teoae,2026-11-02T07:00,I-2,{Odd},Ada Moss

        """;

    [Fact]
    public async Task A_probe_has_its_counts_its_weeks_what_was_done_and_what_stands_against_it()
    {
        await using var bed = await StartAsync();
        await FlagBed.AddAsync(bed, FlagBed.Flag(bed.Harbour, onset: new(2026, 10, 14)));
        using var manager = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        (string, string)[] happened = [("instrument/probe_changed", "I-1"), ("instrument/calibrated", "I-2"), ("probe/checked", "P9")];
        foreach (var (what, name) in happened)
        {
            using var done = await SignedIn.SendFormAsync(manager, "/sites/harbour/equipment", ("Form.What", what), ("Form.Name", name),
                ("Form.Day", "2026-10-20"), ("Form.Words", ""));
            Assert.Equal(HttpStatusCode.Redirect, done.StatusCode);
        }

        // The site's page and the list of all sites lead there.
        foreach (var from in new[] { "/sites/harbour", "/sites?by=probe" })
            Assert.Contains("/sites/harbour/units/probe/P9?from=2025-11-26&amp;to=2026-11-25\">P9</a>",
                await manager.GetStringAsync(from, IntakeBed.Ct), StringComparison.Ordinal);
        var page = WebUtility.HtmlDecode(
            SignedIn.Plain(await manager.GetStringAsync("/sites/harbour/units/probe/P9", IntakeBed.Ct)));
        Assert.Contains("2 infants tested, 3 tests of one ear", page, StringComparison.Ordinal);
        Assert.Contains("What to check first", page, StringComparison.Ordinal);
        Assert.Contains("Tests without a valid result, per week of test by its Monday, with exact limits (0.135 % beyond each); the "
            + "upright line is the onset, about 14 Oct 2026", page, StringComparison.Ordinal);
        Assert.Contains("Instrument I-1: probe changed</title>", page, StringComparison.Ordinal); // it is used with it
        Assert.Contains("Probe P9: checked</title>", page, StringComparison.Ordinal);
        Assert.DoesNotContain("I-2", page, StringComparison.Ordinal);
        Assert.Contains("first 24 hours <a href=\"/sites/harbour/tests?from=2025-11-26&to=2026-11-25&show=first_day&by=probe&unit=P9\">0<",
            page, StringComparison.Ordinal);
        Assert.Contains(">1</a>, 33.3 %; noise", page, StringComparison.Ordinal);
        Assert.Contains(">0</a> in both ears, 0.0 %", page, StringComparison.Ordinal);
        foreach (var show in new[] { "first_refer", "no_valid_result" })
        {
            var week = $"/sites/harbour/tests?from=2026-08-31&to=2026-09-06&show={show}&by=probe&unit=P9";
            Assert.Contains($"\"{week}\"", page, StringComparison.Ordinal);
            Assert.Contains("1 test of one ear, 1 infant", await manager.GetStringAsync(week, IntakeBed.Ct), StringComparison.Ordinal);
        }

        // Nothing stands against the instrument, and it has its weeks all the same; out of use it says so.
        var instrument = await manager.GetStringAsync("/sites/harbour/units/instrument/I-1", IntakeBed.Ct);
        Assert.DoesNotContain("What to check first", instrument, StringComparison.Ordinal);
        Assert.Contains("First tests that referred, per week of test", instrument, StringComparison.Ordinal);
        Assert.Contains("No tests in this period", await manager.GetStringAsync(
            "/sites/harbour/units/instrument/I-1?from=2026-05-01&to=2026-05-31", IntakeBed.Ct), StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_screener_is_addressed_by_pseudonym_by_everybody()
    {
        await using var bed = await StartAsync();
        var key = NameScreeners.Pseudonym(bed.Harbour, "Ines Quill");
        using var manager = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        foreach (var (client, name) in new[] { (manager, "Ines Quill"), (coordinator, key) })
        {
            Assert.Contains($"/sites/harbour/units/screener/{key}?from=2025-11-26&amp;to=2026-11-25\">{name}</a>",
                await client.GetStringAsync("/sites/harbour", IntakeBed.Ct), StringComparison.Ordinal);
            Assert.Contains($"<h1>Screener {name}</h1>",
                await client.GetStringAsync($"/sites/harbour/units/screener/{key}", IntakeBed.Ct), StringComparison.Ordinal);
            Assert.Equal(HttpStatusCode.NotFound,
                (await client.GetAsync("/sites/harbour/units/screener/Ines%20Quill", IntakeBed.Ct)).StatusCode);
        }

        Assert.DoesNotContain("Quill",
            await coordinator.GetStringAsync($"/sites/harbour/units/screener/{key}", IntakeBed.Ct), StringComparison.Ordinal);
    }

    [Fact]
    public async Task Another_sites_unit_is_not_found_and_odd_names_kinds_and_verbs_do_no_harm()
    {
        await using var bed = await StartAsync();
        await bed.SendAsync(Rows.Replace("H-", "L-", StringComparison.Ordinal).Replace("P9", "Q7", StringComparison.Ordinal), bed.Hill);
        var key = NameScreeners.Pseudonym(bed.Harbour, "Ines Quill");
        using var other = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Hill);
        using var manager = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        Assert.Equal(HttpStatusCode.OK, await AskAsync(other, "/sites/hill/units/probe/Q7"));
        Assert.Equal(HttpStatusCode.OK, await AskAsync(manager, "/sites/harbour/units/probe/P9"));
        foreach (var path in new[]
        {
            "harbour/units/probe/P9", "harbour/units/instrument/I-1", $"harbour/units/screener/{key}", "hill/units/probe/P9",
            $"hill/units/screener/{key}", "nowhere/units/probe/Q7",
        }) Assert.Equal(HttpStatusCode.NotFound, await AskAsync(other, "/sites/" + path));
        foreach (var path in new[]
        {
            "probe", "probe/", "probe/p9", "probe/P9%20", "probe/%27%20or%201=1--", "probe/" + new string('9', 3_000), "site/harbour",
            "method/teoae", "hour/10", "received/2026-09-02", "nothing/P9", "screener/", "probe/..%2fP9", "instrument/P9",
        }) Assert.Equal(HttpStatusCode.NotFound, await AskAsync(manager, "/sites/harbour/units/" + path));
        foreach (var verb in new[] { "PUT", "DELETE", "PATCH", "POST", "BREW" })
        {
            using var request = new HttpRequestMessage(new(verb), "/sites/harbour/units/probe/P9");
            using var answer = await manager.SendAsync(request, IntakeBed.Ct);
            Assert.InRange((int)answer.StatusCode, 400, 499);
        }

        using var nobody = SignedIn.Nobody(bed);
        Assert.NotEqual(HttpStatusCode.OK, await AskAsync(nobody, "/sites/harbour/units/probe/P9"));

        // A name no address likes is led to all the same.
        var link = WebUtility.HtmlDecode(Regex.Match(await manager.GetStringAsync("/sites/harbour", IntakeBed.Ct),
            "href=\"(/sites/harbour/units/probe/A[^\"]+)\"").Groups[1].Value);
        Assert.Contains("1 infant tested", await manager.GetStringAsync(link, IntakeBed.Ct), StringComparison.Ordinal);
    }

    private static async Task<HttpStatusCode> AskAsync(HttpClient client, string path) =>
        (await client.GetAsync(path, IntakeBed.Ct)).StatusCode;

    private async Task<IntakeBed> StartAsync()
    {
        var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Rows);
        return bed;
    }
}
