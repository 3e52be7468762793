using Registry.Access;
using Registry.Platform;

namespace Registry.Reporting;

/// <summary>
/// <c>GET /api/v1/measures?from=&amp;to=&amp;asOf=&amp;knownAt=&amp;breakdown=&amp;vitalBirths=&amp;release=&amp;format=json|csv</c>. A coordinator
/// sees every count unless <c>release=true</c> asks for what may leave the registry; anybody else gets the latter only.
/// </summary>
public static class GetMeasures
{
    internal static async Task<IResult> GetAsync(HttpRequest http, ComputeMeasures measures, ProgramClock clock, Viewer viewer, CancellationToken cancel)
    {
        var query = viewer.IsCoordinator ? http.Query : WithReleaseDefaults(http.Query, clock);
        var (request, problems) = MeasureRequest.Read(query, clock);
        var release = !viewer.IsCoordinator || http.Query["release"] == "true";
        if (http.Query["release"].ToString() is not ("" or "true" or "false")) problems["release"] = ["Either true or false."];
        if (http.Query["format"].ToString() is not ("" or "json" or "csv")) problems["format"] = ["Either json or csv."];
        if (request is not null && !viewer.IsCoordinator && request.NotForRelease(clock) is { } refusal) problems["from"] = [refusal];
        if (request is null || problems.Count > 0) return Results.ValidationProblem(problems);

        var report = MeasureReport.Of(await measures.RunAsync(request, release, cancel));
        return WantsCsv(http)
            ? Results.Text(WriteMeasuresCsv.Of(report), "text/csv; charset=utf-8")
            : Results.Ok(report);
    }

    private static bool WantsCsv(HttpRequest http) =>
        http.Query["format"] == "csv"
        || (http.Query["format"] != "json" && http.GetTypedHeaders().Accept.OrderByDescending(a => a.Quality ?? 1).FirstOrDefault()?.MediaType == "text/csv");

    /// <summary>Without a period: last calendar year, as of the end of last month.</summary>
    internal static QueryCollection WithReleaseDefaults(IQueryCollection query, ProgramClock clock)
    {
        var completed = new Dictionary<string, Microsoft.Extensions.Primitives.StringValues>(query.ToDictionary(q => q.Key, q => q.Value), StringComparer.OrdinalIgnoreCase);
        var monthEnd = MeasureRequest.LastMonthEnd(clock.Today);
        completed.TryAdd("asOf", MeasureRequest.Iso(monthEnd));
        if (!completed.ContainsKey("from") && !completed.ContainsKey("to"))
        {
            completed["from"] = $"{monthEnd.Year - 1:0000}-01-01";
            completed["to"] = $"{monthEnd.Year - 1:0000}-12-31";
        }

        return new QueryCollection(completed);
    }
}
