using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;

namespace Registry.Reporting.Publication;

/// <summary><c>/reports/published/{id}</c>: a report as published; running it again shows that every count is the same, or what
/// differs and why.</summary>
[Authorize(Permissions.Coordinator)]
public sealed class PublishedReportPageModel(ReadPublishedReports reports, PublishReport publish) : PageModel
{
    public PublishedReport Report { get; private set; } = null!;
    public IReadOnlyList<PublishedLine> Whole { get; private set; } = [];
    public Rerun? Rerun { get; private set; }

    public async Task<IActionResult> OnGetAsync(Guid id, CancellationToken ct)
    {
        if (await reports.OneAsync(id, ct) is not { } shown) return NotFound();
        (Report, Whole) = (shown.Report, shown.Whole);
        return Page();
    }

    public async Task<IActionResult> OnPostAsync(Guid id, CancellationToken ct)
    {
        Rerun = await publish.RerunAsync(id, ct);
        return await OnGetAsync(id, ct);
    }
}
