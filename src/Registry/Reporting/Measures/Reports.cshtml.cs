using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Microsoft.AspNetCore.WebUtilities;
using Registry.Access;
using Registry.Platform;
using Registry.Reporting.Publication;
using Registry.Rules.Facts;
using Registry.Rules.Measures;

namespace Registry.Reporting.Measures;

/// <summary>
/// <c>/reports</c>: every measure for the births of a period. A coordinator sees every count, each of which opens the infants
/// behind it, and may publish; anybody else sees what may be released.
/// </summary>
public sealed class ReportsModel(ComputeMeasures measures, CountVitalBirths vitalBirths, ProgramClock clock, Viewer viewer) : PageModel
{
    /// <summary>The proportion the groups are compared by.</summary>
    [BindProperty(SupportsGet = true)]
    public string Compare { get; set; } = "screening.screened.of_births";

    [BindProperty]
    public string? Title { get; set; }

    public MeasureRequest? Asked { get; private set; }
    public MeasureReport? Report { get; private set; }

    /// <summary>Births of the period that a vital-records office reported; null when none did, or before a period is asked for.</summary>
    public int? VitalBirthsReported { get; private set; }
    public IReadOnlyDictionary<string, string[]> Problems { get; private set; } = new Dictionary<string, string[]>();
    public GroupFigures Whole => Report!.Groups[0];
    public IEnumerable<GroupFigures> Parts => Report!.Groups.Skip(1);
    public bool MayOpen => viewer.IsCoordinator;
    public int SumsHeld => Report!.Groups.Sum(g => g.Sums.Count(s => s.Holds));
    public IEnumerable<(string Group, SumFigure Sum)> SumsBroken =>
        Report!.Groups.SelectMany(g => g.Sums.Where(s => !s.Holds).Select(s => (g.Group, s)));

    public Task OnGetAsync(CancellationToken ct) => LoadAsync(ct);

    /// <summary>Publishes what is shown.</summary>
    public async Task<IActionResult> OnPostAsync([FromServices] PublishReport publish, CancellationToken ct)
    {
        if (!viewer.IsCoordinator || viewer.PersonId is not { } person) return Forbid();
        await LoadAsync(ct);
        if (Asked is null) return Page();
        var title = Title?.Trim() ?? "";
        if (title.Length is 0 or > PublishReport.LongestTitle)
        {
            ModelState.AddModelError(nameof(Title), $"A title of 1 to {PublishReport.LongestTitle} characters.");
            return Page();
        }

        var report = await publish.PublishAsync(Asked, title, person, ct);
        TempData["Done"] = "The report is published. It can be run again at any time.";
        return Redirect($"/reports/published/{report.Id}");
    }

    private async Task LoadAsync(CancellationToken ct)
    {
        var query = viewer.IsCoordinator ? Request.Query : GetMeasures.WithReleaseDefaults(Request.Query, clock);
        var (request, problems) = MeasureRequest.Read(query, clock);
        if (request is not null && !viewer.IsCoordinator && request.NotForRelease(clock) is { } refusal) problems["from"] = [refusal];
        Problems = problems;
        if (request is null || problems.Count > 0) return;
        Asked = request;
        if (MayOpen) VitalBirthsReported = await vitalBirths.RunAsync(request.From, request.To, request.KnownAt, ct);
        Report = MeasureReport.Of(await measures.RunAsync(request, forRelease: !viewer.IsCoordinator, ct));
    }

    public IEnumerable<LineFigure> Lines(params string[] prefixes) =>
        Whole.Lines.Where(l => prefixes.Any(p => l.Code == p || l.Code.StartsWith(p + ".", StringComparison.Ordinal)));

    public IEnumerable<RatioFigure> Ratios(MeasureGroup group, params string[] prefixes) =>
        Whole.Ratios.Where(r => r.Group == Codes.Of(group)
            && (prefixes.Length == 0 || prefixes.Any(p => r.Code.StartsWith(p + ".", StringComparison.Ordinal))));

    public IEnumerable<SumFigure> Sums(params string[] prefixes) =>
        Whole.Sums.Where(s => prefixes.Any(p => s.Total == p || s.Total.StartsWith(p + ".", StringComparison.Ordinal)));

    /// <summary>The infants a line counts; null where individuals may not be seen.</summary>
    public string? Behind(string line, string? group = null) =>
        MayOpen && Asked is not null && line != MeasureSet.VitalBirths
            ? Ask("/reports/infants", ("line", line), ("group", group)) : null;

    /// <summary>A link that asks the same question.</summary>
    public string Ask(string path, params (string Name, string? Value)[] more)
    {
        var r = Asked!;
        var query = new List<KeyValuePair<string, string?>>
        {
            new("from", MeasureRequest.Iso(r.From)),
            new("to", MeasureRequest.Iso(r.To)),
            new("asOf", r.AsOf == clock.Today ? null : MeasureRequest.Iso(r.AsOf)),
            new("knownAt", r.KnownAsOf(clock) ? null : r.KnownAt.UtcDateTime.ToString(
                "O", System.Globalization.CultureInfo.InvariantCulture)),
            new("breakdown", r.Breakdown == Breakdown.None ? null : Codes.Of(r.Breakdown)),
            new("vitalBirths", more.Any(m => m.Name == "vitalBirths") ? null : r.VitalBirths?.ToString(
                System.Globalization.CultureInfo.InvariantCulture)),
        };
        query.AddRange(more.Select(m => new KeyValuePair<string, string?>(m.Name, m.Value)));
        return QueryHelpers.AddQueryString(path, query.Where(q => q.Value is not null));
    }
}
