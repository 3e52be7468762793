using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;

namespace Registry.Reporting.Publication;

/// <summary><c>/reports/published</c>: every report ever published, newest first.</summary>
[Authorize(Permissions.Coordinator)]
public sealed class PublishedReportsModel(ReadPublishedReports reports) : PageModel
{
    public IReadOnlyList<PublishedReport> Reports { get; private set; } = [];

    public async Task OnGetAsync(CancellationToken ct) => Reports = await reports.AllAsync(ct);
}
