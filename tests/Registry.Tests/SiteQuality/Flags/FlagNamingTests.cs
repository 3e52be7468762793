using System.Net;
using Registry.Infants.Counting;
using Registry.Records;
using Registry.Rules;
using Registry.Rules.Quality;
using Registry.SiteQuality;
using Registry.Tests.Intake;

namespace Registry.Tests.SiteQuality.Flags;

/// <summary>Pages say what a flag is named by now, what it was raised with, and what else was said of it; as of a past day what was said
/// then. Today is 25 November 2026.</summary>
public sealed class FlagNamingTests(TestDatabase database)
{
    private static readonly FlagNaming Said = FlagBed.Naming(CauseKind.Instrument, "I1", new(2026, 11, 23), new(2026, 11, 6)) with
    {
        Sure = .8,
        Same = [new(CauseKind.Probe, "P9")],
        Next = new(CauseKind.Site, "harbour"),
        Also = [SessionMeasure.Referred],
        Shadows = [new(CauseKind.Screener, "Nurse Holm"), new(CauseKind.Site, "harbour")],
    };

    [Fact]
    public async Task A_flag_is_shown_by_what_it_is_named_by_now_with_what_it_was_raised_with()
    {
        await using var bed = await StartAsync();
        var id = await FlagBed.AddAsync(bed, Renamed(bed));
        using var manager = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        var page = await TextAsync(manager, $"/sites/harbour/flags/{id}");
        foreach (var said in new[]
        {
            "Instrument I1 or probe P9: more first sessions with a test without a seal", "since about 6 Nov 2026",
            "raised as screener Nurse Holm on 20 Nov 2026", "What was seen of screener Nurse Holm through 20 Nov 2026",
            "Instrument I1 and probe P9 made the same tests: nothing tells them apart.", "Next likely: the whole site.",
            "Unusual of it as well: first tests that refer.",
            "Unusual only because of it, without flags of their own: screener Nurse Holm and the whole site.",
            "Named by the nightly comparison on 23 Nov 2026: instrument I1", "Exchange the probe with another",
        }) Assert.Contains(said, page, StringComparison.Ordinal);
        Assert.DoesNotContain("Watch one session", page, StringComparison.Ordinal);

        // The list, the cell and the site's page say the same.
        foreach (var path in new[] { "/flags", "/sites/harbour" })
        {
            var shown = await TextAsync(manager, path);
            Assert.Contains("Instrument I1 or probe P9: more", shown, StringComparison.Ordinal);
            Assert.Contains("raised as screener Nurse Holm", shown, StringComparison.Ordinal);
        }

        Assert.Contains(",instrument,I1,", await manager.GetStringAsync("/flags?handler=Csv", IntakeBed.Ct), StringComparison.Ordinal);

        // The day before, it was still the screener; two days before that nobody could know.
        var before = await TextAsync(manager, $"/sites/harbour/flags/{id}?asOf=2026-11-22");
        Assert.Contains("Screener Nurse Holm: more first sessions", before, StringComparison.Ordinal);
        Assert.DoesNotContain("nstrument I1 ", before, StringComparison.Ordinal);
        Assert.Equal(HttpStatusCode.NotFound,
            (await manager.GetAsync($"/sites/harbour/flags/{id}?asOf=2026-11-19", IntakeBed.Ct)).StatusCode);
    }

    [Fact]
    public async Task Elsewhere_a_screener_among_the_parts_has_a_pseudonym()
    {
        await using var bed = await StartAsync();
        var id = await FlagBed.AddAsync(bed, Renamed(bed));
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        foreach (var path in new[] { $"/sites/harbour/flags/{id}", "/flags", "/flags?handler=Csv", "/sites", "/sites/harbour" })
        {
            var page = await TextAsync(coordinator, path);
            Assert.Contains("I1", page, StringComparison.Ordinal);
            Assert.DoesNotContain("Holm", page, StringComparison.Ordinal);
        }
    }

    /// <summary>Tests of the summer that came on Thursday: nobody knew in the summer.</summary>
    [Fact]
    public async Task A_flag_that_late_results_raised_stands_since_the_night_that_raised_it()
    {
        await using var bed = await StartAsync();
        await FlagBed.AddAsync(
            bed, FlagBed.Flag(bed.Harbour, found: new(2026, 9, 10), onset: new(2026, 9, 2), recorded: new(2026, 11, 19)));
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        await using var db = bed.App.OpenDb();
        foreach (var (day, stands) in new[] { (18, 0), (19, 1) })
        {
            DateOnly asOf = new(2026, 11, day);
            var asked = new ScreensAsked(new(asOf.AddYears(-1), asOf), CountedDay.Test, null, asOf, Policy.Default);
            Assert.Equal(stands, (await ReadUnits.StandingAsync(db, asked, IntakeBed.Ct)).Findings[bed.Harbour].Count());
        }

        foreach (var path in new[] { "/flags?", "/flags?since=2026-11-19&" })
        {
            Assert.DoesNotContain("P9", await TextAsync(coordinator, $"{path}asOf=2026-11-18"), StringComparison.Ordinal);
            Assert.Contains("robe P9", await TextAsync(coordinator, $"{path}asOf=2026-11-19"), StringComparison.Ordinal);
        }

        Assert.DoesNotContain("P9", await TextAsync(coordinator, "/flags?since=2026-11-20"), StringComparison.Ordinal);
    }

    private static QualityFinding Renamed(IntakeBed bed)
    {
        var flag = FlagBed.Flag(bed.Harbour, "Nurse Holm", cause: CauseKind.Screener);
        (flag.FoundCause, flag.FoundName) = (Said.Part.Kind, Said.Part.Code);
        flag.Namings = [flag.Named, Said];
        return flag;
    }

    private async Task<IntakeBed> StartAsync()
    {
        var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync("""
            kind,record_number,birth_date,sex,ear,outcome,method,performed_at,instrument,probe
            birth,A1,2026-09-02,female,,,,,,
            screening,A1,,,right,pass,teoae,2026-09-03T10:00,I1,P9
            birth,A2,2026-11-02,female,,,,,,
            screening,A2,,,right,pass,teoae,2026-11-03T10:00,I1,P8

            """, bed.Harbour);
        return bed;
    }

    private static async Task<string> TextAsync(HttpClient client, string path) =>
        WebUtility.HtmlDecode(SignedIn.Plain(await client.GetStringAsync(path, IntakeBed.Ct))).Replace('\u00a0', ' ');
}
