using System.Globalization;
using System.Text;
using Microsoft.Extensions.DependencyInjection;
using Registry.Infants.Counting;
using Registry.SiteQuality;
using Registry.Tests.Intake;

namespace Registry.Tests.SiteQuality;

/// <summary>A probe that gives no valid results is found, once, with its evidence; nobody else is; and it is closed when it is well
/// again.</summary>
public sealed class ComputeSiteRatesTests(TestDatabase database)
{
    [Fact]
    public async Task A_leaking_probe_is_found_with_its_evidence_and_nobody_else_is()
    {
        await using var bed = await StartAsync();
        Assert.Equal(["probe P9 invalid 14 94"], await bed.ListAsync(
            "select concat_ws(' ', subject, name, measure, numerator, denominator) from quality_findings where resolved_on is null and "
            + "subject = 'probe'"));
        Assert.Contains("14 of 94 tests without a valid result (14.9 %)",
            (await bed.ListAsync("select evidence from quality_findings where subject = 'probe'"))[0], StringComparison.Ordinal);
    }

    [Fact]
    public async Task What_was_found_is_found_once()
    {
        await using var bed = await StartAsync();
        Assert.EndsWith("0 new, 0 no longer", await RunAsync(bed), StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_probe_that_is_well_again_is_no_longer_a_finding()
    {
        await using var bed = await StartAsync();
        await bed.ListAsync("update screenings set superseded_at = now() - interval '1 year' where probe = 'P9' and outcome = "
            + "'no_valid_result' returning id");
        await bed.App.Services.GetRequiredService<KeepCountsCurrent>().RecountAsync(IntakeBed.Ct);
        await RunAsync(bed);
        Assert.Equal(["2026-11-25"], await bed.ListAsync("select resolved_on::text from quality_findings where subject = 'probe'"));
    }

    /// <summary>120 infants at each site; probe P9 of the harbour gives nothing in the first try at every third infant, the others at every
    /// twentieth; compared once.</summary>
    private async Task<IntakeBed> StartAsync()
    {
        var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Rows("H", ["P1", "P2", "P9"]), bed.Harbour);
        await bed.SendAsync(Rows("L", ["Q1", "Q2", "Q3"]), bed.Hill);
        await RunAsync(bed);
        return bed;
    }

    private static Task<string> RunAsync(IntakeBed bed) => bed.App.Services.GetRequiredService<ComputeSiteRates>().RunAsync(IntakeBed.Ct);

    private static string Rows(string prefix, string[] probes)
    {
        var csv = new StringBuilder("kind,record_number,birth_date,sex,ear,outcome,reason,method,performed_at,instrument,probe\n");
        for (var i = 0; i < 120; i++)
        {
            var born = new DateOnly(2026, 10, 1).AddDays(i % 40);
            var test = born.AddDays(1).ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);
            var probe = probes[i % 3];
            csv.Append(CultureInfo.InvariantCulture, $"birth,{prefix}{i},{born:yyyy-MM-dd},female,,,,,,,\n");
            if (i / 3 % (probe == "P9" ? 3 : 20) == 0)
                csv.Append(CultureInfo.InvariantCulture,
                    $"screening,{prefix}{i},,,right,no_valid_result,no_seal,teoae,{test}T09:00,I1,{probe}\n");
            foreach (var ear in new[] { "right", "left" })
                csv.Append(CultureInfo.InvariantCulture, $"screening,{prefix}{i},,,{ear},pass,,teoae,{test}T10:00,I1,{probe}\n");
        }

        return csv.ToString();
    }
}
