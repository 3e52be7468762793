using System.Net.Http.Json;
using System.Text.Json;
using Registry.Reporting.Measures;
using Registry.Tests.Intake;

namespace Registry.Tests.Reporting.Measures;

/// <summary>Short ways to ask the measures API and pick figures out of its answer.</summary>
internal static class AskForMeasures
{
    private static readonly JsonSerializerOptions Web = new(JsonSerializerDefaults.Web);

    public static async Task<MeasureReport> MeasuresAsync(this HttpClient client, string query)
    {
        var answer = await client.GetAsync("/api/v1/measures?" + query, IntakeBed.Ct);
        Assert.True(answer.IsSuccessStatusCode, await answer.Content.ReadAsStringAsync(IntakeBed.Ct));
        return (await answer.Content.ReadFromJsonAsync<MeasureReport>(Web, IntakeBed.Ct))!;
    }

    public static int? Count(this MeasureReport report, string line, string group = "all") =>
        report.Groups.First(g => g.Group == group).Lines.First(l => l.Code == line).Count;

    public static RatioFigure Ratio(this MeasureReport report, string code) => report.Groups[0].Ratios.First(r => r.Code == code);
}
