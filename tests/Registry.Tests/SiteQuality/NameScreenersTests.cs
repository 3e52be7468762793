using System.Net;
using System.Text.RegularExpressions;
using Registry.Records;
using Registry.Tests.Intake;

namespace Registry.Tests.SiteQuality;

/// <summary>A screener is named at the own site and nowhere else; a figure of a pseudonym opens the same tests.</summary>
public sealed partial class NameScreenersTests(TestDatabase database)
{
    private const string Period = "from=2026-11-01&to=2026-11-25";

    [Fact]
    public async Task Elsewhere_a_screener_has_a_pseudonym_that_opens_the_same_tests()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync("""
            kind,record_number,birth_date,sex,ear,outcome,method,performed_at,screener
            birth,A1,2026-11-02,female,,,,,
            screening,A1,,,right,pass,teoae,2026-11-03T10:00,Nurse Holm
            screening,A1,,,left,pass,teoae,2026-11-03T10:05,Nurse Holm
            birth,A2,2026-11-02,female,,,,,
            screening,A2,,,right,pass,teoae,2026-11-03T11:00,Nurse Quist

            """);
        var own = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        Assert.Contains("Nurse Holm", await own.GetStringAsync($"/sites/harbour?{Period}", IntakeBed.Ct), StringComparison.Ordinal);
        Assert.Contains("Nurse Holm", await own.GetStringAsync($"/sites/harbour/tests?{Period}&handler=Csv", IntakeBed.Ct),
            StringComparison.Ordinal);

        var office = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var page = WebUtility.HtmlDecode(await office.GetStringAsync($"/sites/harbour?{Period}", IntakeBed.Ct));
        Assert.DoesNotContain("Nurse", page, StringComparison.Ordinal);
        var units = Behind().Matches(page).Select(m => m.Groups[1].Value).Distinct().ToList();
        Assert.Equal(2, units.Count);
        var tests = new List<int>();
        foreach (var unit in units)
        {
            var csv = await office.GetStringAsync($"/sites/harbour/tests?{Period}&by=screener&unit={unit}&handler=Csv", IntakeBed.Ct);
            Assert.DoesNotContain("Nurse", csv, StringComparison.Ordinal);
            tests.Add(csv.Trim().Split('\n').Length - 1);
        }

        Assert.Equal([1, 2], tests.Order());
    }

    [GeneratedRegex("by=screener&unit=([A-Z0-9_-]{5})")]
    private static partial Regex Behind();
}
