namespace Registry.Reporting.Measures;

/// <summary>
/// <c>GET /api/v1/measures?from=&amp;to=&amp;asOf=&amp;knownAt=&amp;breakdown=&amp;vitalBirths=&amp;release=&amp;format=</c> json, csv
/// or survey. A coordinator sees every count unless <c>release=true</c> asks for what may leave the registry; anybody else gets
/// the latter only.
/// </summary>
public static class GetMeasures
{
    internal static async Task<IResult> GetAsync(HttpRequest http, ReadQuestion questions, ComputeMeasures measures, CancellationToken ct)
    {
        var (report, problems) = await ReportAsync(http.Query, questions, measures, ct);
        if (http.Query["format"].ToString() is not ("" or "json" or "csv" or "survey")) problems["format"] = ["One of json, csv, survey."];
        if (report is null || problems.Count > 0) return Results.ValidationProblem(problems);
        if (http.Query["format"] == "survey") return Results.Text(WriteSurveySheet.Of(report), "text/csv; charset=utf-8");
        return WantsCsv(http)
            ? Results.Text(WriteMeasuresCsv.Of(report), "text/csv; charset=utf-8")
            : Results.Ok(report);
    }

    /// <summary>The figures a query asks for as this viewer may have them, or what is wrong by field: whoever asks, in whatever
    /// format.</summary>
    internal static async Task<(MeasureReport? Report, Dictionary<string, string[]> Problems)> ReportAsync(
        IQueryCollection asked, ReadQuestion questions, ComputeMeasures measures, CancellationToken ct)
    {
        var (request, release, problems) = await questions.ForAsync(asked, ct);
        return request is null
            ? (null, problems)
            : (MeasureReport.Of(await measures.RunAsync(request, release, ct)), problems);
    }

    private static bool WantsCsv(HttpRequest http) =>
        http.Query["format"] == "csv"
        || (http.Query["format"] != "json" && http.GetTypedHeaders().Accept.OrderByDescending(a => a.Quality ?? 1)
            .FirstOrDefault()?.MediaType == "text/csv");
}
