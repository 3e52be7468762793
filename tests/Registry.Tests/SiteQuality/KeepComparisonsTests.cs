using System.Globalization;
using System.Net;
using System.Text;
using Microsoft.EntityFrameworkCore;
using Microsoft.Extensions.DependencyInjection;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Rules.Quality;
using Registry.Rules.Statistics;
using Registry.SiteQuality;
using Registry.Tests.Intake;

namespace Registry.Tests.SiteQuality;

/// <summary>What a night compares is what the plainest computation gives, is replaced the next night, and is shown to who may see it: in
/// the table, on the site's page, in the drawing, and in the file.</summary>
public sealed class KeepComparisonsTests(TestDatabase database)
{
    private static readonly DateOnly First = new(2026, 8, 1);

    [Fact]
    public async Task A_night_keeps_what_the_plainest_computation_gives_and_the_next_replaces_it()
    {
        await using var bed = await StartAsync();
        var units = await UnitsAsync(bed);
        await ComputeSiteRatesTests.RunAsync(bed);
        Assert.Equal(units.Select(Key), (await UnitsAsync(bed)).Select(Key));

        // Refers and infants of each probe, from the facts.
        var facts = await bed.ListAsync("""
            select concat_ws(' ', s.code, v.probe, count(*), count(*) filter (where referred))
              from (select t.site_id, t.infant_id, min(t.probe) as probe, bool_or(t.outcome = 'refer') as referred
                      from screenings t group by 1, 2) v join sites s on s.id = v.site_id
             group by s.code, v.probe order by 1
            """);
        var codes = (await bed.ListAsync("select id || ' ' || code from sites")).ToDictionary(
            l => new SiteId(Guid.Parse(l.Split(' ')[0])), l => l.Split(' ')[1]);
        var probes = units.Where(u => u is { Kind: QualityUnitKind.Probe, Measure: SessionMeasure.Referred })
            .OrderBy(u => codes[u.SiteId], StringComparer.Ordinal).ThenBy(u => u.Name, StringComparer.Ordinal).ToList();
        Assert.Equal(6, probes.Count);
        Assert.Equal(facts, probes.Select(u => $"{codes[u.SiteId]} {u.Name} {u.Trials} {u.Observed}"));

        // All infants are alike, so all have one risk p of the model; each is scaled by the odds of the others.
        var policy = await bed.App.Services.GetRequiredService<PolicyStore>().InForceAsync(bed.App.Today, IntakeBed.Ct);
        var (plan, _) = await bed.App.Services.GetRequiredService<KeepPlans>()
            .ForAsync(ComputeSiteRates.WatchedFrom(bed.App.Today), policy, IntakeBed.Ct);
        var model = plan.Models[SessionMeasure.Referred];
        var p = (double)model.Events / model.Trials;
        var (trials, observed) = (probes.Sum(u => u.Trials), probes.Sum(u => u.Observed));
        foreach (var u in probes)
        {
            var odds = p / (1 - p) * (observed - u.Observed) / ((trials - u.Trials) * p);
            var expected = u.Trials * odds / (1 + odds);
            Assert.Equal(expected, u.Expected, 1e-4 * expected);
            Assert.Equal((double)observed / trials * u.Observed / u.Expected, u.Standardized!.Value, 1e-9);
            Assert.Equal(MidP(u.Trials, u.Expected / u.Trials, u.Observed), u.TooMany, 1e-8);
            Assert.Equal((policy.Version, model.Version, bed.App.Today, bed.App.Today.AddYears(-1).AddDays(1), 6, trials, observed),
                (u.PolicyVersion, u.ModelVersion, u.AsOf, u.FirstDay, u.Units, u.AllTrials, u.AllObserved));
        }

        Assert.Equal(BenjaminiHochberg.Adjust([.. units.Select(u => Math.Min(1, 2 * Math.Min(u.TooMany, 1 - u.TooMany)))]),
            units.Select(u => u.AdjustedP), (a, b) => Math.Abs(a - b) < 1e-12);
        Assert.Equal(("P9", 1), probes.Where(u => u.Beyond != 0).Select(u => (u.Name, u.Beyond)).Single());
        Assert.True(probes.Single(u => u.Name == "P9") is { FarAbove: > .9, RankFirst: 1, RankLast: 1 });
    }

    [Fact]
    public async Task Whoever_compares_sites_sees_it_a_site_its_own_and_no_screener_by_name()
    {
        await using var bed = await StartAsync();
        var office = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var probes = WebUtility.HtmlDecode(await office.GetStringAsync("/sites?by=probe", IntakeBed.Ct));
        Assert.Contains("data-th=\"Compared with expected\"", probes, StringComparison.Ordinal);
        Assert.Contains("more than chance", probes, StringComparison.Ordinal);
        Assert.Contains("Compared in the night of 25 Nov 2026", probes, StringComparison.Ordinal);
        Assert.Contains("standardized (the region's rate times observed / expected)", probes, StringComparison.Ordinal);
        Assert.Contains("/sites/harbour/tests?from=2025-11-26&to=2026-11-25&show=first_refer&by=probe&unit=P9", probes,
            StringComparison.Ordinal);
        var ordered = await office.GetStringAsync("/sites?by=probe&sort=-ratio", IntakeBed.Ct);
        Assert.Matches("<tbody>\\s*<tr>\\s*<th scope=\"row\">\\s*(<a [^>]+>)?P9", ordered);

        // What is no unit, as counted; of a past day, before anything was sent, nothing.
        var counted = await office.GetStringAsync("/sites?by=method", IntakeBed.Ct);
        Assert.DoesNotContain("Compared with expected</", counted, StringComparison.Ordinal);
        Assert.Contains("not adjusted for case mix", counted, StringComparison.Ordinal);
        Assert.DoesNotContain("Compared with expected</", await office.GetStringAsync("/sites?by=probe&asOf=2026-11-20", IntakeBed.Ct),
            StringComparison.Ordinal);

        var csv = Csv(await office.GetStringAsync("/sites?by=probe&handler=Csv", IntakeBed.Ct));
        Assert.Equal(6, csv.Count);
        var p9 = csv.Single(r => r["unit"] == "P9");
        Assert.Equal(("1", "1", "2025-11-26"), (p9["place_first"], p9["place_last"], p9["compared_from"]));
        Assert.Equal(p9["first_referred"], p9["observed"]);
        Assert.True(double.Parse(p9["observed_by_expected"], CultureInfo.InvariantCulture) > 1.5);

        // On the page of the site all of its own, by measure.
        var page = WebUtility.HtmlDecode(await office.GetStringAsync("/sites/harbour", IntakeBed.Ct));
        Assert.Contains("Probe P9", page, StringComparison.Ordinal);
        Assert.Contains("First sessions with a test without a seal", page, StringComparison.Ordinal);
        Assert.DoesNotContain("Nurse", page, StringComparison.Ordinal);
        Assert.DoesNotContain("Probe Q1", page, StringComparison.Ordinal);

        var own = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        Assert.Contains("Screener Nurse Holm", await own.GetStringAsync("/sites/harbour", IntakeBed.Ct), StringComparison.Ordinal);
        var theirs = Csv(await own.GetStringAsync("/sites?by=probe&handler=Csv", IntakeBed.Ct));
        Assert.Equal(["P1", "P2", "P9"], theirs.Select(r => r["unit"]).Order());
        Assert.DoesNotContain("unit=Q1", await own.GetStringAsync("/sites?by=probe", IntakeBed.Ct), StringComparison.Ordinal);
        Assert.Equal(HttpStatusCode.NotFound, (await own.GetAsync("/sites/hill", IntakeBed.Ct)).StatusCode);
    }

    private static List<Dictionary<string, string>> Csv(string text)
    {
        var lines = text.Trim('\uFEFF').Trim().Split("\r\n").Select(l => l.Split(',')).ToList();
        return [.. lines.Skip(1).Select(l => lines[0].Zip(l).ToDictionary(c => c.First, c => c.Second))];
    }

    private static object Key(ComparedUnit u) =>
        (u.SiteId, u.Kind, u.Measure, u.Name, u.Trials, u.Observed, u.Expected, u.AdjustedP, u.Shrunken, u.RankFirst);

    private static async Task<List<ComparedUnit>> UnitsAsync(IntakeBed bed)
    {
        await using var db = bed.App.OpenDb();
        return await db.ComparedUnits.AsNoTracking().OrderBy(u => u.Measure).ThenBy(u => u.Kind).ThenBy(u => u.SiteId)
            .ThenBy(u => u.Name).ToListAsync(IntakeBed.Ct);
    }

    /// <summary>By the terms of the binomial, one after the other.</summary>
    private static double MidP(int n, double p, int x)
    {
        var (term, sum) = (Math.Pow(1 - p, n), 0.0);
        for (var k = 0; k <= x; k++)
        {
            sum += k == x ? term / 2 : term;
            term *= (n - k) / (k + 1.0) * p / (1 - p);
        }

        return 1 - sum;
    }

    /// <summary>Six infants a day at each of two sites, tested at 26 hours; of probe P9 every fourth refers, else every twentieth; every
    /// thirtieth first try gives nothing for want of a seal.</summary>
    private async Task<IntakeBed> StartAsync()
    {
        var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Rows(bed, "H", ["P1", "P2", "P9"], "Nurse Holm"), bed.Harbour);
        await bed.SendAsync(Rows(bed, "L", ["Q1", "Q2", "Q3"], "Nurse Quist"), bed.Hill);
        await ComputeSiteRatesTests.RunAsync(bed);
        return bed;
    }

    private static string Rows(IntakeBed bed, string prefix, string[] probes, string screener)
    {
        var csv = new StringBuilder(
            "kind,record_number,birth_date,birth_time,sex,gestation_weeks,ear,outcome,reason,method,performed_at,instrument,probe,screener\n");
        var days = bed.App.Today.DayNumber - First.DayNumber - 1;
        for (var i = 0; i < 6 * days; i++)
        {
            var born = First.AddDays(i / 6);
            var test = born.AddDays(1).ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);
            var probe = probes[i % 3];
            csv.Append(CultureInfo.InvariantCulture, $"birth,{prefix}{i},{born:yyyy-MM-dd},08:00,female,39,,,,,,,,\n");
            if (i / 3 % 30 == 0)
                csv.Append(CultureInfo.InvariantCulture,
                    $"screening,{prefix}{i},,,,,left,no_valid_result,no_seal,teoae,{test}T09:50,I1,{probe},{screener}\n");
            var outcome = i / 3 % (probe == "P9" ? 4 : 20) == 1 ? "refer" : "pass";
            csv.Append(CultureInfo.InvariantCulture,
                $"screening,{prefix}{i},,,,,right,{outcome},,teoae,{test}T10:00,I1,{probe},{screener}\n");
            csv.Append(CultureInfo.InvariantCulture, $"screening,{prefix}{i},,,,,left,pass,,teoae,{test}T10:00,I1,{probe},{screener}\n");
        }

        return csv.ToString();
    }
}
