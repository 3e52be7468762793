using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Microsoft.EntityFrameworkCore;
using Registry.Access;
using Registry.Records;

namespace Registry.Reporting.Publication;

/// <summary><c>/reports/published</c>: every report ever published, newest first.</summary>
[Authorize(Permissions.Coordinator)]
public sealed class PublishedReportsModel(RegistryDb db) : PageModel
{
    public IReadOnlyList<PublishedReport> Reports { get; private set; } = [];

    public async Task OnGetAsync(CancellationToken ct) =>
        Reports = await db.PublishedReports.AsNoTracking().OrderByDescending(r => r.PublishedAt).Take(500).ToListAsync(ct);
}
