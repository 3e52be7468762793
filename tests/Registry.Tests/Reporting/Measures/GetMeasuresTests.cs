using System.Net;
using System.Text.RegularExpressions;
using Registry.Records;
using Registry.Rules;
using Registry.Rules.Disclosure;
using Registry.Tests.Intake;

namespace Registry.Tests.Reporting.Measures;

/// <summary>Who gets which figures, over HTTP, and that a number leads to as many infants.</summary>
public sealed partial class GetMeasuresTests(TestDatabase database)
{
    private const string Year = "from=2025-01-01&to=2025-12-31&asOf=2026-10-31";

    [Fact]
    public async Task Figures_come_with_their_definition_and_every_sum_holds()
    {
        await using var bed = await IntakeBed.StartWithRegionAsync(database);
        var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var report = await client.MeasuresAsync(Year + "&breakdown=site&vitalBirths=400");
        Assert.False(report.Definition.Released);
        Assert.Equal("2026-1", report.Definition.PolicyVersion);
        Assert.Equal(new DateOnly(2026, 10, 31), report.Definition.AsOf);
        Assert.All(report.Groups.SelectMany(g => g.Sums), s => Assert.True(s.Holds, s.Name));
        Assert.True(report.Count("births") > 100);
        Assert.Equal(report.Count("births"), report.Groups.Skip(1).Sum(g => report.Count("births", g.Group)));
        Assert.Equal(400, report.Ratio("screening.screened.of_vital_births").Denominator);
        var screened = report.Ratio("screening.screened.of_births");
        Assert.True(screened.Lower < screened.Value && screened.Value <= screened.Upper);
    }

    [Fact]
    public async Task Everybody_but_a_coordinator_gets_what_may_be_released()
    {
        await using var bed = await IntakeBed.StartWithRegionAsync(database);
        var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var manager = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        foreach (var breakdown in new[] { "none", "county" })
        {
            var all = await coordinator.MeasuresAsync($"{Year}&breakdown={breakdown}");
            var released = await manager.MeasuresAsync($"{Year}&breakdown={breakdown}");
            Assert.True(released.Definition.Released);
            Assert.Empty(released.Curves);
            foreach (var (group, shown) in all.Groups.Zip(released.Groups))
            {
                Assert.Equal(ReleasedLines.Lines(shown.Group == "all"), shown.Lines.Select(l => l.Code));
                Assert.All(shown.Ratios, r => Assert.Equal("national_survey", r.Group));
                foreach (var seen in shown.Lines)
                {
                    var count = group.Lines.First(l => l.Code == seen.Code).Count!.Value;
                    Assert.True(count == 0 || count >= Policy.Default.ReleaseThreshold || seen is { Count: null, Hidden: true }, seen.Code);
                    Assert.True(seen.Hidden || seen.Count == count);
                }
            }
        }
    }

    /// <summary>Whoever asks without a day gets the year's one day; a coordinator's file for release is the same file.</summary>
    [Fact]
    public async Task A_year_of_births_is_released_as_of_one_day()
    {
        await using var bed = await IntakeBed.StartWithRegionAsync(database);
        var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var manager = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        var released = (await manager.MeasuresAsync("")).Definition;
        Assert.Equal((new DateOnly(2025, 1, 1), new DateOnly(2025, 12, 31), new DateOnly(2026, 10, 31)),
            (released.From, released.To, released.AsOf));
        Assert.Equal(
            await manager.GetStringAsync("/api/v1/measures?from=2025-01-01&format=csv", IntakeBed.Ct),
            await coordinator.GetStringAsync("/api/v1/measures?from=2025-01-01&format=csv&release=true", IntakeBed.Ct));
        var answer = await coordinator.GetAsync("/api/v1/measures?from=2025-01-01&asOf=2026-09-30&release=true", IntakeBed.Ct);
        Assert.Equal(HttpStatusCode.BadRequest, answer.StatusCode);
        Assert.Contains("births of 2025 as of 2026-10-31", await answer.Content.ReadAsStringAsync(IntakeBed.Ct));
    }

    [Theory]
    [InlineData("from=2025-01-01&to=2025-11-30&asOf=2026-10-31")]
    [InlineData("from=2025-01-01&to=2025-12-31&asOf=2026-10-30")]
    [InlineData(Year + "&knownAt=2026-11-02")]
    [InlineData("from=2025-01-01&to=2025-12-31&asOf=2026-09-30")]
    [InlineData("from=2026-01-01")]
    public async Task Figures_that_could_be_subtracted_from_one_another_are_not_released(string query)
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var manager = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        Assert.Equal(HttpStatusCode.BadRequest, (await manager.GetAsync("/api/v1/measures?" + query, IntakeBed.Ct)).StatusCode);
    }

    [Fact]
    public async Task Who_is_no_coordinator_opens_the_reports_and_nothing_behind_them()
    {
        await using var bed = await IntakeBed.StartWithRegionAsync(database);
        var manager = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        Assert.Equal(HttpStatusCode.OK, (await manager.GetAsync("/reports", IntakeBed.Ct)).StatusCode);
        foreach (var closed in new[] { "/reports/infants?line=births", "/reports/published", "/api/v1/export/facts",
            "/api/v1/export/statuses" })
            Assert.False((await manager.GetAsync(closed, IntakeBed.Ct)).IsSuccessStatusCode, closed);
    }

    [Fact]
    public async Task A_stranger_gets_no_figures()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        Assert.Equal(HttpStatusCode.Unauthorized,
            (await SignedIn.Nobody(bed).GetAsync("/api/v1/measures", IntakeBed.Ct)).StatusCode);
    }

    [Theory]
    [InlineData("from=2025-13-01", "from")]
    [InlineData("from=2026-01-01&to=2025-01-01", "to")]
    [InlineData("asOf=2030-01-01", "asOf")]
    [InlineData("breakdown=star_sign", "breakdown")]
    [InlineData("vitalBirths=-4", "vitalBirths")]
    [InlineData("knownAt=yesterday", "knownAt")]
    [InlineData("format=xml", "format")]
    [InlineData("release=perhaps", "release")]
    public async Task A_wrong_question_is_answered_with_the_field_and_the_reason(string query, string field)
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var answer = await client.GetAsync("/api/v1/measures?" + query, IntakeBed.Ct);
        Assert.Equal(HttpStatusCode.BadRequest, answer.StatusCode);
        Assert.Contains($"\"{field}\":[", await answer.Content.ReadAsStringAsync(IntakeBed.Ct));
    }

    [Fact]
    public async Task Csv_holds_the_same_figures_and_no_data_is_not_zero()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        using var request = new HttpRequestMessage(HttpMethod.Get, "/api/v1/measures?" + Year);
        request.Headers.Accept.ParseAdd("text/csv");
        var answer = await client.SendAsync(request, IntakeBed.Ct);
        Assert.Equal("text/csv", answer.Content.Headers.ContentType!.MediaType);
        var rows = (await answer.Content.ReadAsStringAsync(IntakeBed.Ct)).Split("\r\n");
        Assert.StartsWith("group,kind,code,name,numerator,denominator,per,value", rows[0]);
        var screened = Assert.Single(rows, r => r.StartsWith("all,proportion,screening.screened.of_births,", StringComparison.Ordinal));
        Assert.Contains(",0,0,100,,,,", screened);
    }

    [Fact]
    public async Task The_national_survey_comes_as_one_sheet_line_by_line()
    {
        await using var bed = await IntakeBed.StartWithRegionAsync(database);
        var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var rows = (await client.GetStringAsync($"/api/v1/measures?{Year}&breakdown=sex&format=survey", IntakeBed.Ct))
            .Split("\r\n", StringSplitOptions.RemoveEmptyEntries);
        Assert.StartsWith("part,code,line,all,female,male", rows[0]);
        Assert.StartsWith("Screening,births,Births reported to the program,", rows[1]);
        var births = rows[1].Split(',')[3..].Select(int.Parse).ToList();
        Assert.Equal(births[0], births.Skip(1).Sum());
        foreach (var code in new[] { "screening.path.not_pass.pass",
            "diagnosis.loss.bilateral.sensorineural.moderate", "loss.non_resident", "births.resident", "births.military",
            "intervention.other_services", "intervention.monitoring_only" })
            Assert.Contains(rows, r => r.Contains($",{code},", StringComparison.Ordinal));
        var ages = await client.MeasuresAsync($"{Year}&breakdown=maternal_age");
        Assert.Contains(ages.Groups, g => g.Group == "25 to 34");
    }

    [Fact]
    public async Task A_number_leads_to_as_many_infants_and_the_read_is_recorded()
    {
        await using var bed = await IntakeBed.StartWithRegionAsync(database);
        var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var report = await client.MeasuresAsync(Year);
        foreach (var line in new[] { "births", "screening.none", "diagnosis.none", "cbe_1357.due", "timeliness.diagnosed.in_time" })
        {
            var page = await client.GetStringAsync($"/reports/infants?{Year}&line={line}", IntakeBed.Ct);
            Assert.Equal(report.Count(line)!.Value, int.Parse(Lead().Match(page).Groups[1].Value.Replace(",", "", StringComparison.Ordinal),
                System.Globalization.CultureInfo.InvariantCulture));
        }

        Assert.Equal("5", (await bed.ListAsync("select count(*)::text from access_records where action = 'GET /reports/infants'"))[0]);
        var overview = await client.GetStringAsync($"/reports?{Year}&breakdown=county", IntakeBed.Ct);
        Assert.Contains("sums of lines that must add up hold", overview);
        Assert.Contains("not for release", overview, StringComparison.OrdinalIgnoreCase);
    }

    [GeneratedRegex(@"<p class=""lead"">\s*([\d,]+) infant")]
    private static partial Regex Lead();
}
