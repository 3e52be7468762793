using System.Globalization;
using Registry.Access;
using Registry.Platform;
using Registry.PolicyVersions;

namespace Registry.Reporting.Measures;

/// <summary>What is asked for, and whether it may leave the registry; no request when there are problems.</summary>
public sealed record Question(MeasureRequest? Request, bool Release, Dictionary<string, string[]> Problems);

/// <summary>
/// Reads what a viewer asks for. A coordinator may ask for anything; a release, and whatever anybody else gets, is of one whole calendar
/// year of births, as of the one day the policy sets for that year: figures of other periods or days could be subtracted from it, and
/// undo the hiding of small counts. The policy is the one in force when the year ended, so that no later version moves the day.
/// </summary>
public sealed class ReadQuestion(PolicyStore policies, ProgramClock clock, Viewer viewer)
{
    public async Task<Question> ForAsync(IQueryCollection query, CancellationToken ct)
    {
        if (query["release"].ToString() is not ("" or "true" or "false"))
            return new(null, false, new() { ["release"] = ["Either true or false."] });
        if (viewer.IsCoordinator && query["release"] != "true")
        {
            var (any, wrong) = MeasureRequest.Read(query, clock);
            return new(any, false, wrong);
        }

        var year = YearOf(query["from"].ToString()) ?? YearOf(query["to"].ToString()) ?? await LatestYearAsync(ct);
        var day = await ReleaseDayAsync(year, ct);
        var completed = query.Where(q => q.Value.ToString().Length > 0)
            .ToDictionary(q => q.Key, q => q.Value, StringComparer.OrdinalIgnoreCase);
        if (!completed.ContainsKey("to")) completed.TryAdd("from", $"{year:0000}-01-01");
        if (completed.ContainsKey("from")) completed.TryAdd("to", $"{year:0000}-12-31");
        completed.TryAdd("asOf", MeasureRequest.Iso(day));
        var (request, problems) = day < clock.Today
            ? MeasureRequest.Read(new QueryCollection(completed), clock) : (null, []);
        if (problems.Count == 0 && !(request is { } r && IsRelease(r, day)))
            problems["from"] = [MeasureWords.Released(year, day)];
        return new(problems.Count == 0 ? request : null, true, problems);
    }

    private bool IsRelease(MeasureRequest request, DateOnly day) =>
        request.From is { Month: 1, Day: 1 } && request.To == new DateOnly(request.From.Year, 12, 31)
        && request.AsOf == day && request.KnownAsOf(clock);

    /// <summary>The year itself when its figures are released by now, else the last one whose are.</summary>
    public async Task<int> ReleasedYearAsync(int year, CancellationToken ct) => Math.Min(year, await LatestYearAsync(ct));

    /// <summary>The last year of births whose figures are released by now.</summary>
    private async Task<int> LatestYearAsync(CancellationToken ct)
    {
        var year = clock.Today.Year - 1;
        while (await ReleaseDayAsync(year, ct) >= clock.Today) year--;
        return year;
    }

    private async Task<DateOnly> ReleaseDayAsync(int year, CancellationToken ct) =>
        (await policies.InForceAsync(new(year, 12, 31), ct)).ReleaseDay(year);

    /// <summary>A year that has a release day: not the first nor the last the calendar knows.</summary>
    private static int? YearOf(string date) =>
        DateOnly.TryParseExact(date, "yyyy-MM-dd", CultureInfo.InvariantCulture, DateTimeStyles.None, out var day)
        && day.Year is > 1900 and < 9000 ? day.Year : null;
}
