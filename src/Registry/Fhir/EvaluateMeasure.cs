using System.Globalization;
using Hl7.Fhir.Model;
using Microsoft.Extensions.Primitives;
using Registry.Intake.Formats.Fhir;
using Registry.Platform;
using Registry.PolicyVersions;
using Registry.Reporting.Measures;
using Registry.Rules.Measures;
using FhirReport = Hl7.Fhir.Model.MeasureReport;
using IssueType = Hl7.Fhir.Model.OperationOutcome.IssueType;
using MeasureReport = Registry.Reporting.Measures.MeasureReport;
using Ratio = Registry.Rules.Measures.Ratio;

namespace Registry.Fhir;

/// <summary>
/// The proportions of <c>GET /api/v1/measures</c> as R4 Measures: listed, and evaluated by <c>$evaluate-measure</c> over the births of a
/// period. The same report, the same rights, the same hidden counts.
/// </summary>
public static class EvaluateMeasure
{
    private const string Population = "http://terminology.hl7.org/CodeSystem/measure-population";

    /// <summary>A measure's id: its code, whose underscores FHIR ids cannot hold.</summary>
    public static string IdOf(string code) => code.Replace('_', '-');

    /// <summary><c>GET /fhir/Measure</c></summary>
    public static async Task<IResult> ListAsync(HttpContext http, PolicyStore policies, ProgramClock clock, CancellationToken ct)
    {
        var ratios = await RatiosAsync(policies, clock, ct);
        return new FhirResult(200, new Bundle
        {
            Type = Bundle.BundleType.Searchset,
            Total = ratios.Count,
            Link = [new() { Relation = "self", Url = $"{ReadRecord.BaseOf(http)}/Measure" }],
            Entry = [.. ratios.Select(r => new Bundle.EntryComponent
            {
                FullUrl = UrlOf(r.Code, http),
                Resource = Describe(r, http),
                Search = new() { Mode = Bundle.SearchEntryMode.Match },
            })],
        });
    }

    /// <summary><c>GET /fhir/Measure/{id}</c></summary>
    public static async Task<IResult> OneAsync(string id, HttpContext http, PolicyStore policies, ProgramClock clock,
        CancellationToken ct) =>
        (await RatiosAsync(policies, clock, ct)).FirstOrDefault(r => IdOf(r.Code) == id) is { } ratio
            ? new FhirResult(200, Describe(ratio, http))
            : FhirResult.Problem(404, IssueType.NotFound, "there is no such Measure; GET /fhir/Measure lists them");

    /// <summary><c>GET /fhir/Measure/{id}/$evaluate-measure?periodStart=…&amp;periodEnd=…</c></summary>
    public static async Task<IResult> EvaluateAsync(
        string id, HttpContext http, ReadQuestion questions, ComputeMeasures measures, PolicyStore policies, ProgramClock clock,
        CancellationToken ct)
    {
        if ((await RatiosAsync(policies, clock, ct)).FirstOrDefault(r => IdOf(r.Code) == id) is not { } ratio)
            return FhirResult.Problem(404, IssueType.NotFound, "there is no such Measure; GET /fhir/Measure lists them");
        var (query, problem) = Query(http.Request.Query);
        if (problem is not null) return FhirResult.Problem(400, IssueType.Invalid, problem);
        var (report, problems) = await GetMeasures.ReportAsync(query!, questions, measures, ct);
        if (report is not null && report.Groups[0].Ratios.All(r => r.Code != ratio.Code))
            return FhirResult.Problem(404, IssueType.NotFound, "this measure is not among those released");
        return report is null
            ? FhirResult.Problem(
                400, problems.Select(
                p => new FhirIssue(null, OperationOutcome.IssueSeverity.Error, IssueType.Invalid, ParameterOf(p.Key), p.Value[0])))
            : new FhirResult(200, Report(ratio, report, http));
    }

    private static async Task<IReadOnlyList<Ratio>> RatiosAsync(PolicyStore policies, ProgramClock clock, CancellationToken ct) =>
        [.. MeasureSet.Under(await policies.InForceAsync(clock.Today, ct)).Ratios.Where(r => !r.OfOthers)];

    private static string UrlOf(string code, HttpContext http) => $"{ReadRecord.BaseOf(http)}/Measure/{IdOf(code)}";

    /// <summary>The operation's parameters as those of the measures API; the period is of birth dates.</summary>
    private static (IQueryCollection? Query, string? Problem) Query(IQueryCollection asked)
    {
        var query = new Dictionary<string, StringValues>(StringComparer.OrdinalIgnoreCase);
        foreach (var (name, value) in asked)
        {
            switch (name)
            {
                case "periodStart" or "periodEnd":
                    if (Day(value.ToString(), name == "periodEnd") is not { } day) return (null, $"{name} is a date, a month or a year");
                    query[name == "periodStart" ? "from" : "to"] = FhirTime.Iso(day);
                    break;
                case "reportType" when value == "summary" || value == "population":
                case "_format":
                    break;
                case "asOf" or "knownAt" or "release":
                    query[name] = value;
                    break;
                case "reportType":
                    return (null, "reportType is summary: reports name no infants");
                default:
                    return (null, "takes periodStart, periodEnd, reportType, asOf, knownAt and release only");
            }
        }

        return query.ContainsKey("from") && query.ContainsKey("to") ? (new QueryCollection(query), null) : (
            null, "periodStart and periodEnd are required");
    }

    private static string ParameterOf(string field) => field switch { "from" => "periodStart", "to" => "periodEnd", _ => field };

    private static DateOnly? Day(string text, bool end)
    {
        if (AskedDay.TryRead(text, out var day)) return day;
        if (AskedDay.TryRead(text, out var month, "yyyy-MM"))
            return end ? month.AddMonths(1).AddDays(-1) : month;
        return AskedDay.TryRead(text, out var year, "yyyy")
            ? (end ? new(year.Year, 12, 31) : year) : null;
    }

    private static Measure Describe(Ratio ratio, HttpContext http) => new()
    {
        Id = IdOf(ratio.Code),
        Url = UrlOf(ratio.Code, http),
        Version = MeasureSet.Version,
        Name = "M" + string.Concat(ratio.Code.Split('.', '_').Select(p => char.ToUpperInvariant(p[0]) + p[1..])),
        Title = ratio.Name,
        Status = PublicationStatus.Active,
        Description = $"Births of the measurement period. {ratio.Source.Text}.",
        Scoring = new("http://terminology.hl7.org/CodeSystem/measure-scoring", "proportion"),
        Group =
        [
            new()
            {
                Population = [.. new[] { ("denominator", ratio.Denominator), ("numerator", ratio.Numerator) }.Concat(
                    ratio.Exclusions.Select(e => ("denominator-exclusion", e)))
                    .Select(p => new Measure.PopulationComponent
                    {
                        Code = new(Population, p.Item1) { Text = p.Item2 },
                        Criteria = new() { Language = "text/plain", Expression_ = p.Item2,
                            Description = "the counted line of this code in docs/measures" },
                    })],
            },
        ],
    };

    private static FhirReport Report(Ratio ratio, MeasureReport report, HttpContext http)
    {
        var figure = report.Groups[0].Ratios.First(r => r.Code == ratio.Code);
        var (definition, group) = (report.Definition, new FhirReport.GroupComponent());
        group.Population.Add(Count("denominator", ratio.Denominator, figure.Denominator));
        group.Population.Add(Count("numerator", ratio.Numerator, figure.Numerator));
        group.Population.AddRange(figure.Exclusions.Select(e => Count("denominator-exclusion", e.Code, e.Count)));
        if (figure.Value is { } value)
            group.MeasureScore = ratio.Per == 100 ? new Quantity(value, "%", FhirSystems.Ucum)
                : new Quantity { Value = value, Unit = $"per {ratio.Per}" };
        return new()
        {
            Status = FhirReport.MeasureReportStatus.Complete,
            Type = FhirReport.MeasureReportType.Summary,
            Measure = $"{UrlOf(ratio.Code, http)}|{MeasureSet.Version}",
            Date = definition.KnownAt.ToString("yyyy-MM-ddTHH:mm:sszzz", CultureInfo.InvariantCulture),
            Reporter = new() { Display = $"Policy {definition.PolicyVersion}, as of {FhirTime.Iso(definition.AsOf)}. {definition.Note}" },
            Period = new() { Start = FhirTime.Iso(definition.From), End = FhirTime.Iso(definition.To) },
            Group = [group],
        };
    }

    /// <summary>A hidden count is absent, and says that it is masked.</summary>
    private static FhirReport.PopulationComponent Count(string role, string line, int? count)
    {
        var population = new FhirReport.PopulationComponent { Code = new(Population, role) { Text = line } };
        population.CountElement = new Integer(count);
        if (count is null) population.CountElement.AddExtension(FhirSystems.DataAbsentExtension, new Code("masked"));
        return population;
    }
}
