using System.Text.Json;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Microsoft.EntityFrameworkCore;
using Registry.Access;
using Registry.Records;
using Registry.Rules.Measures;

namespace Registry.Reporting.Publication;

/// <summary><c>/reports/published/{id}</c>: a report as published; running it again shows that every count is the same, or what
/// differs and why.</summary>
[Authorize(Permissions.Coordinator)]
public sealed class PublishedReportPageModel(RegistryDb db, PublishReport reports) : PageModel
{
    public PublishedReport Report { get; private set; } = null!;
    public IReadOnlyList<(string Code, string Name, int Count)> Whole { get; private set; } = [];
    public Rerun? Rerun { get; private set; }

    public Task<IActionResult> OnGetAsync(Guid id, CancellationToken ct) => LoadAsync(id, ct);

    public async Task<IActionResult> OnPostAsync(Guid id, CancellationToken ct)
    {
        Rerun = await reports.RerunAsync(id, ct);
        return await LoadAsync(id, ct);
    }

    private async Task<IActionResult> LoadAsync(Guid id, CancellationToken ct)
    {
        if (await db.PublishedReports.AsNoTracking().FirstOrDefaultAsync(r => r.Id == id, ct) is not { } report) return NotFound();
        Report = report;
        var counts = JsonSerializer.Deserialize<Dictionary<string, Dictionary<string, int>>>(report.Figures)![Tabulate.Whole];
        var names = MeasureSet.Under(Rules.Policy.Default).Lines.ToDictionary(l => l.Code, l => l.Name);
        var order = names.Keys.ToList();
        Whole = [.. counts.Select(c => (c.Key, names.GetValueOrDefault(c.Key, "(a line of older definitions)"), c.Value))
            .OrderBy(c => order.IndexOf(c.Key))];
        return Page();
    }
}
