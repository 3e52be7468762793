using Registry.Access;

namespace Registry.Reporting.Measures;

/// <summary>Every measure for the births of a period, as a viewer may have them.</summary>
/// <param name="Asked">Null with <paramref name="Report"/> when there are problems.</param>
/// <param name="VitalBirths">Births of the period that a vital-records office reported, for coordinators; null when none did.</param>
/// <param name="ReleaseYear">Whose births' figures may leave the registry: the year asked for, or the last one that may.</param>
/// <param name="Problems">What is wrong with the question, by field.</param>
public sealed record ShownReport(
    MeasureRequest? Asked, MeasureReport? Report, int? VitalBirths, int ReleaseYear, IReadOnlyDictionary<string, string[]> Problems);

/// <summary>Computes the report a viewer asks for: a coordinator sees every count, anybody else what may be released.</summary>
public sealed class ShowReport(ReadQuestion questions, ComputeMeasures measures, CountVitalBirths vitalBirths, Viewer viewer)
{
    public async Task<ShownReport> ForAsync(IQueryCollection query, CancellationToken ct)
    {
        var (request, release, problems) = await questions.ForAsync(query, ct);
        if (request is null) return new(null, null, null, 0, problems);
        return new(
            request,
            MeasureReport.Of(await measures.RunAsync(request, forRelease: release, ct)),
            viewer.IsCoordinator ? await vitalBirths.RunAsync(request.From, request.To, request.KnownAt, ct) : null,
            await questions.ReleasedYearAsync(request.From.Year, ct),
            problems);
    }
}
