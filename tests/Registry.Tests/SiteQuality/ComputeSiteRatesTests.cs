using System.Globalization;
using System.Net;
using System.Text;
using System.Text.RegularExpressions;
using Microsoft.Extensions.DependencyInjection;
using Registry.Infants.Counting;
using Registry.Records;
using Registry.SiteQuality;
using Registry.Tests.Browser;
using Registry.Tests.Intake;

namespace Registry.Tests.SiteQuality;

/// <summary>A probe that begins to leak is found, once, with its onset and evidence; nobody else is; and it is closed when it is well
/// again. Pages say so in the cell, and a page of paper says it to the site.</summary>
public sealed partial class ComputeSiteRatesTests(TestDatabase database, Chromium chromium)
{
    private static readonly DateOnly First = new(2026, 7, 1), Leaks = new(2026, 10, 20);

    [Fact]
    public async Task A_leaking_probe_is_found_with_its_onset_and_nobody_else_is()
    {
        await using var bed = await StartAsync();
        Assert.Equal(["harbour probe P9 no_seal t"], await bed.ListAsync(
            "select concat_ws(' ', s.code, cause, f.name, measure, above) from quality_findings f join sites s on s.id = f.site_id "
            + "where resolved_on is null"));
        var onset = DateOnly.Parse((await bed.ListAsync("select onset_on::text from quality_findings"))[0], CultureInfo.InvariantCulture);
        Assert.InRange(onset.DayNumber, Leaks.DayNumber - 5, Leaks.DayNumber + 5);
        Assert.EndsWith("0 new, 0 no longer", await RunAsync(bed), StringComparison.Ordinal);

        // The cell of the site says it, and the site's page what it stands on and what to look at.
        var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var sites = WebUtility.HtmlDecode(await client.GetStringAsync("/sites", IntakeBed.Ct));
        Assert.Single(Flag().Matches(sites));
        Assert.Contains("▲ probe P9 since about ", sites, StringComparison.Ordinal);
        Assert.Contains("▲ probe P9 since about ", WebUtility.HtmlDecode(await client.GetStringAsync("/sites?by=probe", IntakeBed.Ct)),
            StringComparison.Ordinal);
        var site = WebUtility.HtmlDecode(await client.GetStringAsync("/sites/harbour", IntakeBed.Ct));
        Assert.Contains("What to check first", site, StringComparison.Ordinal);
        Assert.Contains("tip size and fit", site, StringComparison.Ordinal);
        Assert.DoesNotContain("What to check first", await client.GetStringAsync("/sites/hill", IntakeBed.Ct), StringComparison.Ordinal);

        // Before it was raised nothing stood.
        Assert.DoesNotContain("since about", await client.GetStringAsync("/sites?asOf=2026-10-15", IntakeBed.Ct), StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_probe_that_is_well_again_is_no_longer_a_finding()
    {
        await using var bed = await StartAsync();
        await bed.ListAsync("update screenings set superseded_at = now() - interval '1 year' where probe = 'P9' and outcome = "
            + "'no_valid_result' returning id");
        await bed.App.Services.GetRequiredService<KeepCountsCurrent>().RecountAsync(IntakeBed.Ct);
        await RunAsync(bed);
        Assert.Equal(["2026-11-25"], await bed.ListAsync("select resolved_on::text from quality_findings"));
    }

    [Fact]
    public async Task A_site_is_printed_on_one_page_good_news_included()
    {
        await using var bed = await StartAsync(listen: true);
        var person = await bed.AddPersonAsync(Role.SiteManager, bed.Harbour);
        var page = await SignedIn.OpenAsync(chromium, bed.App, person.Email!);
        await page.GotoAsync("/sites");
        Assert.EndsWith("/sites/harbour", page.Url, StringComparison.Ordinal); // a manager lands on the own site
        await page.GotoAsync("/sites/harbour/report");
        var text = await page.InnerTextAsync("main");
        Assert.Contains("Good news", text, StringComparison.Ordinal);
        Assert.Contains("Probe P9", text, StringComparison.Ordinal);
        var pdf = Encoding.Latin1.GetString(await page.PdfAsync(new() { Format = "A4" }));
        Assert.Single(PdfPage().Matches(pdf));
    }

    /// <summary>Of what the night found; late results have a mark of their own.</summary>
    [GeneratedRegex("class=\"flag\"[^▲▼]*[▲▼][^<]* since about ")]
    private static partial Regex Flag();

    [GeneratedRegex(@"/Type\s*/Page\b(?!s)")]
    private static partial Regex PdfPage();

    /// <summary>Four infants a day at each site; every twentieth first try gives nothing for want of a seal, with probe P9 of the harbour
    /// from a day on every second.</summary>
    private Task<IntakeBed> StartAsync(bool listen = false) => LeakingAsync(database, listen);

    internal static async Task<IntakeBed> LeakingAsync(TestDatabase database, bool listen = false)
    {
        var bed = await IntakeBed.StartAsync(database, listen: listen);
        await bed.SendAsync(Rows(bed, "H", ["P1", "P2", "P9"]), bed.Harbour);
        await bed.SendAsync(Rows(bed, "L", ["Q1", "Q2", "Q3"]), bed.Hill);
        await RunAsync(bed);
        return bed;
    }

    internal static Task<string> RunAsync(IntakeBed bed) =>
        bed.App.Services.GetRequiredService<ComputeSiteRates>().RunAsync(IntakeBed.Ct);

    private static string Rows(IntakeBed bed, string prefix, string[] probes)
    {
        var csv = new StringBuilder("kind,record_number,birth_date,birth_time,sex,ear,outcome,reason,method,performed_at,instrument,probe\n");
        var days = bed.App.Today.DayNumber - First.DayNumber - 1;
        for (var i = 0; i < 4 * days; i++)
        {
            var born = First.AddDays(i / 4);
            var test = born.AddDays(1).ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);
            var probe = probes[i % 3];
            csv.Append(CultureInfo.InvariantCulture, $"birth,{prefix}{i},{born:yyyy-MM-dd},08:00,female,,,,,,,\n");
            if (i / 3 % (probe == "P9" && born >= Leaks ? 2 : 20) == 0)
                csv.Append(CultureInfo.InvariantCulture,
                    $"screening,{prefix}{i},,,,right,no_valid_result,no_seal,teoae,{test}T09:00,I1,{probe}\n");
            foreach (var ear in new[] { "right", "left" })
            {
                var outcome = ear == "right" && i % 17 == 0 ? "refer" : "pass";
                csv.Append(CultureInfo.InvariantCulture, $"screening,{prefix}{i},,,,{ear},{outcome},,teoae,{test}T10:00,I1,{probe}\n");
            }
        }

        return csv.ToString();
    }
}
