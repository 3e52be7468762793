using System.Globalization;
using System.Net;
using System.Text;
using Microsoft.Extensions.DependencyInjection;
using Registry.Records;
using Registry.SiteQuality;
using Registry.Tests.Intake;

namespace Registry.Tests.SiteQuality;

/// <summary>A clinic, where nobody is born, is measured by all it reports: its tests and its evaluations.</summary>
public sealed class ClinicResultsTests(TestDatabase database)
{
    private const string Period = "from=2026-09-01&to=2026-11-25";
    private const int Infants = 30;
    private static readonly DateOnly First = new(2026, 10, 1);

    /// <summary>30 infants of a hospital, one seen at the clinic each day: their tests are sent every evening, their evaluations every
    /// tenth day.</summary>
    private async Task<IntakeBed> StartAsync()
    {
        const string mother = "birth_date,sex,mother_birth_date,mother_given_name,mother_family_name";
        var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync($"kind,record_number,{mother}\n"
            + string.Concat(Enumerable.Range(0, Infants).Select(i => $"birth,B{i},{Mother(i)}\n")), at: At(-1));
        for (var day = 0; day <= Infants; day++)
        {
            var csv = new StringBuilder(
                $"kind,record_number,{mother},ear,outcome,method,performed_at,evaluated_on,right_finding,left_finding\n");
            if (day < Infants)
                csv.Append(CultureInfo.InvariantCulture, $"screening,C{day},{Mother(day)},right,pass,aabr,{Seen(day)}T10:00,,,\n");
            for (var kept = day - 10; day % 10 == 0 && kept >= 0 && kept < day; kept++)
                csv.Append(CultureInfo.InvariantCulture, $"diagnosis,C{kept},{Mother(kept)},,,,,{Seen(kept)},normal,normal\n");
            await bed.SendAsync(csv.ToString(), bed.Hill, at: At(day));
        }

        Assert.Equal(2 * Infants, await bed.CountAsync("screenings") + await bed.CountAsync("diagnoses"));
        return bed;

        static string Mother(int i) =>
            $"2026-09-01,female,1990-01-{i + 1:00},{(char)('A' + (i % 26))}{(char)('a' + (i / 26))}lva,Marlow{(char)('a' + (i % 26))}";
        static string Seen(int day) => First.AddDays(day).ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);
        static DateTimeOffset At(int day) => new(First.AddDays(day).ToDateTime(new TimeOnly(18, 0)), TimeSpan.Zero);
    }

    /// <summary>Of each ten days' evaluations those of the first three came later than seven days, and all but the last two were passed by
    /// twice at least; its tests came on their day.</summary>
    [Fact]
    public async Task Every_number_of_a_clinic_opens_as_many_results_as_it_counts()
    {
        await using var bed = await StartAsync();
        using var client = await SignedIn.AsAsync(bed, Role.AudiologyClinic, bed.Hill);
        var page = WebUtility.HtmlDecode(await client.GetStringAsync($"/sites/hill?{Period}", IntakeBed.Ct));
        Assert.Contains("No tests before discharge in this period", page, StringComparison.Ordinal);
        Assert.Contains("tests of one ear, and evaluations", page, StringComparison.Ordinal);
        Assert.Contains("9 of 60", page, StringComparison.Ordinal);
        Assert.Contains("24 of 60", page, StringComparison.Ordinal);
        Assert.Contains("8 results</a> of 8 different days", page, StringComparison.Ordinal);
        Assert.Contains("▲ late", page, StringComparison.Ordinal);
        foreach (var (query, results) in new[]
        {
            ("show=results", 60), ("show=late", 9), ("show=skipped", 24), ("show=burst", 24), ("show=burst&received=2026-10-11", 8),
            ("show=all", 0), // before discharge
        })
        {
            var csv = await client.GetStringAsync($"/sites/hill/tests?{Period}&handler=Csv&{query}", IntakeBed.Ct);
            Assert.True(results == csv.Trim().Split('\n').Length - 1, $"{query}: {csv}");
        }

        var list = WebUtility.HtmlDecode(await client.GetStringAsync($"/sites/hill/tests?{Period}&show=results", IntakeBed.Ct));
        Assert.Contains("60 tests and evaluations, 30 infants", list, StringComparison.Ordinal);
        Assert.Contains("data-th=\"Method\">Evaluation</td>", list, StringComparison.Ordinal);
        Assert.DoesNotContain("00:00", list, StringComparison.Ordinal); // an evaluation has a day and no time
    }

    /// <summary>What was known then; and a correction states anew what was first stated long before.</summary>
    [Fact]
    public async Task A_correction_makes_no_result_late()
    {
        await using var bed = await StartAsync();
        await bed.SendAsync("action,kind,record_number,ear,outcome,method,performed_at,evaluated_on,right_finding,left_finding\n"
            + "correct,screening,C1,right,refer,aabr,2026-10-02T10:00,,,\ncorrect,diagnosis,C1,,,,,2026-10-02,mixed,normal\n", bed.Hill);
        using var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var page = await client.GetStringAsync($"/sites/hill?{Period}", IntakeBed.Ct);
        Assert.Contains("9 of 60", page, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_clinic_that_keeps_results_back_is_marked_in_the_list_of_sites()
    {
        await using var bed = await StartAsync();
        await bed.App.Services.GetRequiredService<CountKeptBack>().RunAsync(IntakeBed.Ct);
        Assert.Equal(["hill 60 24 24"], await bed.ListAsync(
            "select concat_ws(' ', s.code, k.tests, k.passed_by, k.in_bursts) from kept_back k join sites s on s.id = k.site_id"));
        using var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var page = await client.GetStringAsync($"/sites?by=site&{Period}", IntakeBed.Ct);
        Assert.Contains("No test before discharge in these days.", page, StringComparison.Ordinal);
        Assert.Contains("▲ kept back", WebUtility.HtmlDecode(page), StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_stranger_lists_none_of_it_and_a_hospital_none_of_its_infants_at_the_clinic()
    {
        await using var bed = await StartAsync();
        var other = await bed.AddSiteAsync("elsewhere", SiteKind.AudiologyClinic);
        using var stranger = await SignedIn.AsAsync(bed, Role.AudiologyClinic, other);
        using var hospital = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        foreach (var client in new[] { stranger, hospital })
            Assert.Equal(HttpStatusCode.NotFound,
                (await client.GetAsync($"/sites/hill/tests?{Period}&show=results", IntakeBed.Ct)).StatusCode);
        foreach (var (client, site) in new[] { (stranger, "elsewhere"), (hospital, "harbour") })
        {
            var csv = await client.GetStringAsync($"/sites/{site}/tests?{Period}&handler=Csv&show=results", IntakeBed.Ct);
            Assert.Single(csv.Trim().Split('\n'));
        }
    }
}
