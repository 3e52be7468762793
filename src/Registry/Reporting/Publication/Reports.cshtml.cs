using System.Globalization;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Microsoft.AspNetCore.WebUtilities;
using Registry.Access;
using Registry.Platform;
using Registry.Reporting.Measures;
using Registry.Rules.Facts;
using Registry.Rules.Measures;

namespace Registry.Reporting.Publication;

/// <summary>
/// <c>/reports</c>: every measure for the births of a period. A coordinator sees every count, each of which opens the infants
/// behind it, and may publish; anybody else sees what may be released.
/// </summary>
[Authorize(Permissions.SeeCounts)]
public sealed class ReportsModel(ShowReport show, PublishReport publish, ProgramClock clock, Viewer viewer) : PageModel
{
    private ShownReport _shown = null!;

    /// <summary>The proportion the groups are compared by.</summary>
    [BindProperty(SupportsGet = true)]
    public string Compare { get; set; } = "screening.screened.of_births";

    [BindProperty]
    public string? Title { get; set; }

    public MeasureRequest? Asked => _shown.Asked;
    public MeasureReport? Report => _shown.Report;
    public int? VitalBirthsReported => _shown.VitalBirths;
    public IReadOnlyDictionary<string, string[]> Problems => _shown.Problems;
    public GroupFigures Whole => Report!.Groups[0];
    public IEnumerable<GroupFigures> Parts => Report!.Groups.Skip(1);
    public bool MayOpen => viewer.IsCoordinator;
    public int SumsHeld => Report!.Groups.Sum(g => g.Sums.Count(s => s.Holds));
    public IEnumerable<(string Group, SumFigure Sum)> SumsBroken =>
        Report!.Groups.SelectMany(g => g.Sums.Where(s => !s.Holds).Select(s => (g.Group, s)));

    public async Task OnGetAsync(CancellationToken ct) => _shown = await show.ForAsync(Request.Query, ct);

    /// <summary>Publishes what is shown.</summary>
    public async Task<IActionResult> OnPostAsync(CancellationToken ct)
    {
        if (!viewer.IsCoordinator || viewer.PersonId is not { } person) return Forbid();
        var (published, refusal) = await publish.FromQueryAsync(Request.Query, Title, person, ct);
        if (published is not null)
        {
            TempData["Done"] = PublicationWords.Published;
            return Redirect($"/reports/published/{published.Id}");
        }

        if (refusal == PublishRefusal.Title) ModelState.AddModelError(nameof(Title), PublicationWords.Title);
        await OnGetAsync(ct);
        return Page();
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

    public int ReleaseYear => _shown.ReleaseYear;

    /// <summary>What may leave the registry of the births of <see cref="ReleaseYear"/>.</summary>
    public string Release => QueryHelpers.AddQueryString("/api/v1/measures", new Dictionary<string, string?>
    {
        ["from"] = MeasureRequest.Iso(new(ReleaseYear, 1, 1)),
        ["breakdown"] = Codes.Of(Asked!.Breakdown),
        ["release"] = "true",
        ["format"] = "csv",
    });

    /// <summary>A link that asks the same question.</summary>
    public string Ask(string path, params (string Name, string? Value)[] more)
    {
        var r = Asked!;
        var query = new List<KeyValuePair<string, string?>>
        {
            new("from", MeasureRequest.Iso(r.From)),
            new("to", MeasureRequest.Iso(r.To)),
            new("asOf", r.AsOf == clock.Today ? null : MeasureRequest.Iso(r.AsOf)),
            new("knownAt", r.KnownAsOf(clock) ? null : r.KnownAt.UtcDateTime.ToString("O", CultureInfo.InvariantCulture)),
            new("breakdown", r.Breakdown == Breakdown.None ? null : Codes.Of(r.Breakdown)),
            new("vitalBirths", more.Any(m => m.Name == "vitalBirths") ? null : r.VitalBirths?.ToString(CultureInfo.InvariantCulture)),
        };
        query.AddRange(more.Select(m => new KeyValuePair<string, string?>(m.Name, m.Value)));
        return QueryHelpers.AddQueryString(path, query.Where(q => q.Value is not null));
    }
}
