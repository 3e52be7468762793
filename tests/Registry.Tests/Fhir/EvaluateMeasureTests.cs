using Hl7.Fhir.Model;
using Registry.Records;
using Registry.Tests.Intake;
using Registry.Tests.Reporting.Measures;
using Task = System.Threading.Tasks.Task;

namespace Registry.Tests.Fhir;

/// <summary>A MeasureReport says what the measures API says, to the same people.</summary>
[Collection(nameof(R4))]
public sealed class EvaluateMeasureTests(TestDatabase database)
{
    private const string Year = "from=2025-01-01&to=2025-12-31&asOf=2026-10-31";
    private const string Period = "$evaluate-measure?periodStart=2025&periodEnd=2025-12&reportType=summary&asOf=2026-10-31";

    [Fact]
    public async Task Every_measure_reports_the_figures_of_the_measures_api_and_hides_the_same()
    {
        await using var bed = await IntakeBed.StartWithRegionAsync(database);
        var hidden = 0;
        foreach (var client in new[] { await SignedIn.AsAsync(bed, Role.Coordinator, null),
            await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour) })
        {
            var figures = (await client.MeasuresAsync(Year)).Groups[0].Ratios;
            var measures = (Bundle)(await client.ReadAsync("/fhir/Measure")).Body;
            foreach (var measure in measures.Entry.Select(e => (Measure)e.Resource!))
            {
                var (status, body) = await client.ReadAsync($"/fhir/Measure/{measure.Id}/{Period}");
                if (figures.FirstOrDefault(f => f.Code.Replace('_', '-') == measure.Id) is not { } figure)
                {
                    // Not among the lines of a release.
                    Assert.Equal(404, status);
                    continue;
                }

                Assert.Equal(200, status);
                Assert.Equal(figure.Name, measure.Title);
                var report = (MeasureReport)body;
                Assert.Equal((figure.Denominator, figure.Numerator, figure.Value),
                    (Count("denominator"), Count("numerator"), report.Group[0].MeasureScore?.Value));
                Assert.Equal(("2025-01-01", "2025-12-31"), (report.Period.Start, report.Period.End));

                int? Count(string role)
                {
                    var population = report.Group[0].Population.First(p => p.Code!.Coding[0].Code == role);
                    if (population.Count is null) hidden++;
                    Assert.Equal(population.Count is null, population.CountElement!.HasExtensions());
                    return population.Count;
                }
            }
        }

        Assert.True(hidden > 0);
    }

    /// <summary>A coordinator sees every count, unless what may leave the registry is asked for; what was recorded later than knownAt does
    /// not count.</summary>
    [Theory]
    [InlineData("release=true")]
    [InlineData("release=false")]
    [InlineData("knownAt=2025-06-30")]
    [InlineData("knownAt=2026-10-31T12:00:00Z")]
    public async Task Release_and_knownAt_mean_what_they_mean_in_the_measures_api(string question)
    {
        await using var bed = await IntakeBed.StartWithRegionAsync(database);
        var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var plain = (await client.MeasuresAsync(Year)).Groups[0].Ratios;
        var figures = (await client.MeasuresAsync($"{Year}&{question}")).Groups[0].Ratios;
        if (question != "release=false" && !question.Contains('T', StringComparison.Ordinal))
            Assert.NotEqual(plain.Select(f => f.Numerator), figures.Select(f => f.Numerator));
        foreach (var figure in figures)
        {
            var report = (MeasureReport)(await client.ReadAsync(
                $"/fhir/Measure/{figure.Code.Replace('_', '-')}/{Period}&{question}")).Body;
            Assert.Equal((figure.Denominator, figure.Numerator, figure.Value),
                (Count("denominator"), Count("numerator"), report.Group[0].MeasureScore?.Value));
            int? Count(string role) => report.Group[0].Population.First(p => p.Code!.Coding[0].Code == role).Count;
        }
    }

    [Theory]
    [InlineData("nothing", Period, 404)]
    [InlineData("screening.screened.of-births", "$evaluate-measure", 400)]
    [InlineData("screening.screened.of-births", "$evaluate-measure?periodStart=2025&periodEnd=soon", 400)]
    [InlineData("screening.screened.of-births", "$evaluate-measure?periodStart=2025&periodEnd=2025&reportType=subject-list", 400)]
    [InlineData("screening.screened.of-births", "$evaluate-measure?periodStart=2025&periodEnd=2024", 400)]
    [InlineData("screening.screened.of-births", "$evaluate-measure?periodStart=2025&periodEnd=2025&release=perhaps", 400)]
    [InlineData("screening.screened.of-births", "$evaluate-measure?periodStart=2025&periodEnd=2025&knownAt=yesterday", 400)]
    [InlineData("screening.screened.of-births", "$evaluate-measure?periodStart=2025&periodEnd=2025&subject=Patient/1", 400)]
    public async Task A_wrong_question_is_answered_with_an_outcome(string measure, string question, int expected)
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var (status, body) = await client.ReadAsync($"/fhir/Measure/{measure}/{question}");
        Assert.Equal(expected, status);
        Assert.IsType<OperationOutcome>(body);
    }

    [Fact]
    public async Task A_site_key_gets_no_figures_of_the_region()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var key = await bed.FhirClientAsync(bed.Harbour);
        using var answer = await key.GetAsync("/fhir/Measure", IntakeBed.Ct);
        Assert.Equal(System.Net.HttpStatusCode.Forbidden, answer.StatusCode);
    }
}
