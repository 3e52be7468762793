using System.Globalization;
using System.Net;
using System.Text;
using System.Text.RegularExpressions;
using Microsoft.Extensions.DependencyInjection;
using Registry.Records;
using Registry.Rules;
using Registry.Rules.Quality;
using Registry.SiteQuality;
using Registry.Tests.Intake;
using Registry.Tests.SiteQuality.Flags;

namespace Registry.Tests.SiteQuality;

/// <summary>Every number and every point of a chart opens as many infants, or tests, as it counts.</summary>
public sealed partial class OpenedPointsTests(TestDatabase database)
{
    private static readonly DateOnly First = new(2026, 10, 1), Onset = new(2026, 10, 8), Found = new(2026, 11, 20);

    [Theory]
    [InlineData(SessionMeasure.Noise, CauseKind.Weekdays)]
    [InlineData(SessionMeasure.Noise, CauseKind.Weekends)]
    [InlineData(SessionMeasure.Noise, CauseKind.Daytime)]
    [InlineData(SessionMeasure.Noise, CauseKind.NightTime)]
    [InlineData(SessionMeasure.Referred, CauseKind.EarlyTests)]
    [InlineData(SessionMeasure.Early, CauseKind.EarlyTests)]
    [InlineData(SessionMeasure.RescreenReferred, CauseKind.Probe, "P9")]
    [InlineData(SessionMeasure.Referred, CauseKind.Probe, "P9")]
    [InlineData(SessionMeasure.Referred, CauseKind.Site)]
    public async Task A_flag_opens_what_it_and_each_of_its_weeks_count(SessionMeasure measure, CauseKind cause, string name = "harbour")
    {
        await using var bed = await StartAsync();
        var factor = new CauseFactor(cause, name);
        var cells = (await bed.App.Services.GetRequiredService<ReadCells>().SinceAsync(First, Policy.Default, IntakeBed.Ct))
            .Where(c => c.Day >= Onset && c.Day <= Found && factor.Holds(c, measure, Policy.Default)).ToList();
        var counted = (Of: cells.Sum(c => CountMeasure.In(c, measure, Policy.Default).Trials),
            With: cells.Sum(c => CountMeasure.In(c, measure, Policy.Default).Events));
        Assert.InRange(counted.With, 1, counted.Of - 1);
        var flag = FlagBed.Flag(bed.Harbour, name, Found, cause, Onset, measure, counted: counted);
        await FlagBed.AddAsync(bed, flag);

        using var manager = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        var page = await manager.GetStringAsync($"/sites/harbour/flags/{flag.Id}", IntakeBed.Ct);
        var opened = await OpenAsync(manager, page);
        Assert.Equal(counted.With, opened[0]);
        Assert.True(opened.Count > 4, "No weeks are drawn.");
        Assert.True(opened.Skip(1).Sum() >= counted.With, "The weeks hold fewer than the flag.");

        // The same chart stands on the site's page, by day of test though the page looks at days of birth.
        var site = await manager.GetStringAsync("/sites/harbour?days=birth", IntakeBed.Ct);
        var found = Between(site, "id=\"flags\"", "All flags, closed");
        Assert.DoesNotContain("days=birth", found, StringComparison.Ordinal);
        Assert.Equal(opened[0], (await OpenAsync(manager, found))[0]);
    }

    [Theory]
    [InlineData("test")]
    [InlineData("birth")]
    public async Task A_site_opens_what_it_counts_by_day_of_test_and_of_birth(string days)
    {
        await using var bed = await StartAsync();
        using var manager = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        var page = await manager.GetStringAsync($"/sites/harbour?days={days}&from=2026-10-01&to=2026-10-24", IntakeBed.Ct);
        Assert.Contains("by=week", page, StringComparison.Ordinal);
        Assert.NotEmpty(await OpenAsync(manager, page));
        Assert.DoesNotContain("days=birth", Between(page, "id=\"delays\"", "</section>"), StringComparison.Ordinal);
        var both = BothEars().Match(page);
        Assert.Equal(2, int.Parse(both.Groups["n"].Value, CultureInfo.InvariantCulture));
        Assert.Equal((4, 2), await CountAsync(manager, both.Groups["href"].Value));
        if (days == "birth") return;
        var report = await manager.GetStringAsync("/sites/harbour/report?from=2026-10-01&to=2026-10-24", IntakeBed.Ct);
        var point = Regex.Match(report, "<a href=\"(?<href>[^\"]+by=week[^\"]+)\" aria-label=\"[^\"]*: (?<n>\\d+) of ");
        Assert.Equal(int.Parse(point.Groups["n"].Value, CultureInfo.InvariantCulture),
            (await CountAsync(manager, point.Groups["href"].Value)).Infants);
    }

    /// <summary>Opens every share that leads to tests, and compares: tests without a valid result are tests, all others infants.</summary>
    private static async Task<List<int>> OpenAsync(HttpClient client, string page)
    {
        var opened = new List<int>();
        foreach (Match share in Share().Matches(page))
        {
            var href = WebUtility.HtmlDecode(share.Groups["href"].Value);
            var (tests, infants) = await CountAsync(client, href);
            var counts = int.Parse(share.Groups["n"].Value, CultureInfo.InvariantCulture);
            var opens = OfTests().IsMatch(href) ? tests : infants;
            Assert.True(counts == opens, $"{href} says {counts}, opens {opens}.");
            opened.Add(counts);
        }

        return opened;
    }

    private static string Between(string page, string first, string last)
    {
        var part = page[page.IndexOf(first, StringComparison.Ordinal)..];
        return part[..part.IndexOf(last, StringComparison.Ordinal)];
    }

    private static async Task<(int Tests, int Infants)> CountAsync(HttpClient client, string href)
    {
        var match = Said().Match(await client.GetStringAsync(WebUtility.HtmlDecode(href), IntakeBed.Ct));
        return (Number(match.Groups[1]), Number(match.Groups[2]));

        static int Number(Group group) => int.Parse(group.Value, CultureInfo.InvariantCulture);
    }

    /// <summary>One infant a day for six weeks: every second tested by night, every fourth early and half of these in intensive care, every
    /// third with noise first; every fifth referred, once in both ears, and rescreened.</summary>
    private async Task<IntakeBed> StartAsync()
    {
        var bed = await IntakeBed.StartAsync(database);
        var csv = new StringBuilder(
            "kind,record_number,birth_date,birth_time,sex,nicu_admitted_on,ear,outcome,reason,method,performed_at,instrument,probe\n");
        for (var i = 0; i < 42; i++)
        {
            var (born, probe) = (First.AddDays(i), i % 7 < 4 ? "P9" : "P1");
            var at = i % 4 == 0 ? born.ToDateTime(new(18, 0)) : born.AddDays(1).ToDateTime(new(i % 2 == 0 ? 10 : 21, 0));
            DateOnly? nicu = i % 8 == 0 ? born : null;
            csv.Append(CultureInfo.InvariantCulture, $"birth,H{i},{born:yyyy-MM-dd},08:00,female,{nicu:yyyy-MM-dd},,,,,,,\n");
            if (i % 3 == 0) Test("right", "no_valid_result", at, "noise");
            Test("right", i % 5 == 0 ? "refer" : "pass", at.AddMinutes(10));
            Test("left", i % 15 == 0 && i < 20 ? "refer" : "pass", at.AddMinutes(20));
            if (i % 5 == 0) Test("right", i % 10 == 0 ? "refer" : "pass", at.AddDays(10));

            void Test(string ear, string outcome, DateTime when, string reason = "") => csv.Append(CultureInfo.InvariantCulture,
                $"screening,H{i},,,,,{ear},{outcome},{reason},teoae,{when:yyyy-MM-ddTHH:mm},I1,{probe}\n");
        }

        await bed.SendAsync(csv.ToString(), bed.Harbour);
        return bed;
    }

    [GeneratedRegex("<a href=\"(?<href>/sites/harbour/tests[^\"]+)\">(?<n>[0-9,]+) of ")]
    private static partial Regex Share();

    [GeneratedRegex(@"show=(no_valid_result|no_seal|noise|other_reason|all|late|skipped)\b")]
    private static partial Regex OfTests();

    [GeneratedRegex(@"<a href=""(?<href>[^""]+show=referred_both[^""]*)"">(?<n>\d+)")]
    private static partial Regex BothEars();

    [GeneratedRegex(@"(\d+) tests? of one ear, (\d+) infant")]
    private static partial Regex Said();
}
