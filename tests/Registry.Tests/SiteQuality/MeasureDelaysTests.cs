using System.Globalization;
using System.Net;
using System.Text;
using Microsoft.Extensions.DependencyInjection;
using Registry.Infants.Counting;
using Registry.Records;
using Registry.Rules;
using Registry.SiteQuality;
using Registry.Tests.Architecture;
using Registry.Tests.Browser;
using Registry.Tests.Intake;

namespace Registry.Tests.SiteQuality;

/// <summary>An instrument whose results stay in its memory is found, and every number opens as many tests as it counts.</summary>
public sealed class MeasureDelaysTests(TestDatabase database, Chromium chromium)
{
    private const string Period = "from=2026-09-01&to=2026-11-25";

    /// <summary>40 infants, one a day: ward 1 sends every evening, ward 2 empties its memory every tenth day.</summary>
    private static async Task SendAsync(IntakeBed bed)
    {
        var first = new DateOnly(2026, 10, 1);
        for (var day = 0; day <= 40; day++)
        {
            var csv = new StringBuilder("kind,record_number,birth_date,sex,ear,outcome,method,performed_at,instrument\n");
            if (day < 40)
            {
                csv.Append(CultureInfo.InvariantCulture, $"birth,A{day},{first.AddDays(day):yyyy-MM-dd},female,,,,,\n");
                csv.Append(Screen(day, "right", "ward 1"));
            }

            if (day % 10 == 0)
                for (var kept = Math.Max(0, day - 10); kept < day; kept++) csv.Append(Screen(kept, "left", "ward 2"));
            await bed.SendAsync(csv.ToString(), at: new DateTimeOffset(first.AddDays(day).ToDateTime(new TimeOnly(18, 0)), TimeSpan.Zero));
        }

        string Screen(int day, string ear, string instrument) =>
            string.Create(CultureInfo.InvariantCulture,
                $"screening,A{day},,,{ear},pass,teoae,{first.AddDays(day):yyyy-MM-dd}T10:00,{instrument}\n");
    }

    [Fact]
    public async Task An_instrument_that_keeps_its_results_is_told_from_one_that_does_not()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await SendAsync(bed);
        // A correction states a test anew, weeks later: what counts is when it was first stated.
        await bed.SendAsync("action,kind,record_number,ear,outcome,method,performed_at,instrument\n"
            + "correct,screening,A1,right,refer,teoae,2026-10-02T10:00,ward 1\n");
        var asked = await bed.App.Services.GetRequiredService<AskScreens>()
            .AsOfAsync(new(new(2026, 9, 1), bed.App.Today), CountedDay.Test, bed.Harbour, bed.App.Today, IntakeBed.Ct);
        var tests = await bed.App.Services.GetRequiredService<MeasureDelays>().RunAsync(asked, 7, IntakeBed.Ct);
        var ward1 = MeasureDelays.Figures(tests.Where(t => t.Instrument == "ward 1"), tests, Policy.Default);
        var ward2 = MeasureDelays.Figures(tests.Where(t => t.Instrument == "ward 2"), tests, Policy.Default);
        Assert.Equal((40, 0, 0L, 0L, 0),
            (ward1.Tests, ward1.MedianDays, ward1.Late.Numerator, ward1.Skipped.Numerator, ward1.Bursts.Count));
        // The site sends every day: whatever came three days later or more was passed by twice.
        // Of each ten days' tests, kept until the eleventh day, those of the first three came later than seven days.
        Assert.Equal((40, 12L, 32L, 4, true, true), (ward2.Tests, ward2.Late.Numerator, ward2.Skipped.Numerator, ward2.Bursts.Count,
            ward2.SkipsSendings, ward2.SendsInBursts));

        // The database's own percentiles, over the days of the same rows.
        var theirs = await bed.ListAsync(
            """
            select (percentile_disc(array[0.5, 0.9]) within group (
                order by (s.received_at at time zone 'UTC')::date - t.performed_at::date))::text
              from screenings t join submissions s on s.id = t.submission_id where t.instrument = 'ward 2' and t.superseded_at is null
            """);
        Assert.Equal(string.Create(CultureInfo.InvariantCulture, $"{{{ward2.MedianDays},{ward2.NinthDecileDays}}}"), theirs[0]);
    }

    [Fact]
    public async Task Every_number_opens_as_many_tests_as_it_counts()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await SendAsync(bed);
        var client = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        var page = WebUtility.HtmlDecode(await client.GetStringAsync($"/sites/harbour?{Period}", IntakeBed.Ct));
        Assert.Contains("▲ bursts", page, StringComparison.Ordinal);
        Assert.Contains("8 tests</a> of 8 different days", page, StringComparison.Ordinal);
        foreach (var (query, tests) in new[]
        {
            ("show=late", 12), ("show=late&by=instrument&unit=ward 2", 12), ("show=late&by=instrument&unit=ward 1", 0),
            ("show=skipped&by=instrument&unit=ward 2", 32), ("show=skipped", 32), ("show=skipped&by=instrument&unit=ward 1", 0),
            ("show=burst&by=instrument&unit=ward 2", 32), ("show=burst&received=2026-10-11", 8), ("show=burst", 32),
        })
        {
            var csv = await client.GetStringAsync($"/sites/harbour/tests?{Period}&handler=Csv&{query}", IntakeBed.Ct);
            Assert.True(tests == csv.Trim().Split('\n').Length - 1, $"{query}: {csv}");
        }

        Assert.Contains("Received late", await client.GetStringAsync($"/sites?{Period}", IntakeBed.Ct),
            StringComparison.Ordinal);
    }

    /// <summary>What most sites do is said once, of the region; only who is far beyond the others is marked.</summary>
    [Theory]
    [InlineData(1, true, false)]
    [InlineData(6, false, true)]
    public async Task Results_kept_back_are_a_mark_until_most_sites_keep_them(int sites, bool marked, bool common)
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await SendAsync(bed);
        await bed.App.Services.GetRequiredService<CountKeptBack>().RunAsync(IntakeBed.Ct);
        Assert.Equal(["80 32 32"], await bed.ListAsync("select concat_ws(' ', tests, passed_by, in_bursts) from kept_back"));
        // Others like it, and others unlike it: eight are compared.
        await bed.ListAsync("insert into sites (id, code, name, county, kind, has_nicu, active) select gen_random_uuid(), 'more-' || n, "
            + "'More ' || n, 'Lind', 'hospital', false, true from generate_series(1, 7) n returning 1");
        await bed.ListAsync("insert into kept_back (site_id, as_of, tests, passed_by, in_bursts) select id, date '2026-11-25', 80, "
            + "case when right(code, 1)::int < $1 then 33 else 0 end, 0 from sites where code like 'more-%' returning 1", sites);
        var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var (all, one) = (await client.GetStringAsync($"/sites?{Period}", IntakeBed.Ct),
            await client.GetStringAsync($"/sites/harbour?{Period}", IntakeBed.Ct));
        Assert.Equal((marked, common), (all.Contains("kept back</a>", StringComparison.Ordinal),
            all.Contains("Most sites keep results back", StringComparison.Ordinal)));
        Assert.Equal((marked, common), (one.Contains("▲ kept back</strong>", StringComparison.Ordinal),
            one.Contains("Most sites keep results back", StringComparison.Ordinal)));
    }

    [Theory]
    [InlineData(null, 12, "Later than 7 days")]
    [InlineData(9, 4, "Later than 9 days")]
    [InlineData(1, 36, "Later than 1 day")]
    [InlineData(21, 0, "Later than 21 days")]
    public async Task Late_is_later_than_the_site_agreed_to_wherever_it_is_said(int? agreed, int late, string column)
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await SendAsync(bed);
        await bed.ListAsync("update sites set arrival_days = nullif($1, 0) where code = 'harbour' returning 1", agreed ?? 0);
        var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        async Task<string> Text(string path) => WebUtility.HtmlDecode(await client.GetStringAsync(path, IntakeBed.Ct));

        var share = $"{late} of 80";
        Assert.Contains(share, Cell(await Text($"/sites?by=site&{Period}"), "Received late"), StringComparison.Ordinal);
        var site = await Text($"/sites/harbour?{Period}");
        Assert.Contains(share, Cell(site, "Received late"), StringComparison.Ordinal);
        Assert.Contains($"<th scope=\"col\">{column}</th>", site, StringComparison.Ordinal);
        Assert.Contains(share, await Text($"/sites/harbour/report?{Period}"), StringComparison.Ordinal);
        Assert.Contains($",{late},", await Text($"/sites?handler=Csv&by=site&{Period}"), StringComparison.Ordinal);
        var listed = await Text($"/sites/harbour/tests?{Period}&handler=Csv&show=late");
        Assert.Equal(late, listed.Trim().Split('\n').Length - 1);

        // Of infants by day of birth, and of units, it is not said.
        Assert.DoesNotContain("Received late</th>", await Text($"/sites?days=birth&{Period}"), StringComparison.Ordinal);
        Assert.DoesNotContain("Received late</th>", await Text($"/sites?by=probe&{Period}"), StringComparison.Ordinal);

        static string Cell(string page, string column) =>
            page.Split($"data-th=\"{column}\">")[1] is var cell ? cell[..cell.IndexOf("</td>", StringComparison.Ordinal)] : "";
    }

    [Fact]
    public async Task Another_site_sees_neither_the_tests_nor_the_site()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await SendAsync(bed);
        var other = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Hill);
        Assert.Equal(HttpStatusCode.NotFound, (await other.GetAsync($"/sites/harbour/tests?{Period}&show=late", IntakeBed.Ct)).StatusCode);
        Assert.DoesNotContain("Harbour", await other.GetStringAsync($"/sites?{Period}", IntakeBed.Ct), StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_silent_site_shows_what_the_finding_stands_on()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await SendAsync(bed); // daily, until 10 November
        var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var page = WebUtility.HtmlDecode(await client.GetStringAsync("/sites/harbour", IntakeBed.Ct));
        Assert.Contains("Silent for longer than usual", page, StringComparison.Ordinal);
        Assert.Contains("Last received 10 Nov 2026, 15 days ago; expected within 7 days.", page, StringComparison.Ordinal);
        Assert.Contains("41 days with a submission in 400 days; from one to the next 1 day at the median and 1 day at the 95th percentile",
            page, StringComparison.Ordinal);
        Assert.Contains("/submissions?site=harbour&from=2026-11-10&to=2026-11-10", page, StringComparison.Ordinal);
        Assert.Contains("▲ silent 15 days", WebUtility.HtmlDecode(await client.GetStringAsync("/sites", IntakeBed.Ct)),
            StringComparison.Ordinal);

        await bed.SendAsync("kind,record_number,birth_date,sex\nbirth,B1,2026-11-20,female\n");
        Assert.Contains("How often it sends", await client.GetStringAsync("/sites/harbour", IntakeBed.Ct), StringComparison.Ordinal);
    }

    [Fact]
    public async Task The_pages_fit_a_desk_and_a_phone()
    {
        await using var bed = await IntakeBed.StartAsync(database, listen: true);
        await SendAsync(bed);
        var person = await bed.AddPersonAsync(Role.Coordinator);
        foreach (var phone in new[] { false, true })
        {
            var page = await SignedIn.OpenAsync(chromium, bed.App, person.Email!, phone: phone);
            foreach (var (path, name) in new[] { ($"/sites?{Period}", "sites-late"), ($"/sites/harbour?{Period}", "site-late"),
                ($"/sites/harbour/tests?{Period}&show=late", "site-tests-late") })
            {
                await page.GotoAsync(path);
                Assert.True(await page.EvaluateAsync<bool>("document.documentElement.scrollWidth <= document.documentElement.clientWidth"),
                    $"{name} overflows");
                if (Environment.GetEnvironmentVariable("REGISTRY_SCREENSHOTS") == "1")
                    await page.ScreenshotAsync(
                        new()
                        {
                            Path = Path.Combine(SourceTree.Root, $"docs/screens/{name}-{(phone ? "phone" : "desktop")}.png"),
                            FullPage = true
                        });
            }
        }
    }
}
