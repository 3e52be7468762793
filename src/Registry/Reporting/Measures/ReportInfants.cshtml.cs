using System.Globalization;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;

namespace Registry.Reporting.Measures;

/// <summary><c>/reports/infants</c>: the infants behind one number of a report. Coordinators only.</summary>
[ShowsInfants, Authorize(Permissions.Coordinator)]
public sealed class ReportInfantsModel(ListReportInfants infants) : PageModel
{
    public ListedReportInfants Listed { get; private set; } = null!;

    public async Task<IActionResult> OnGetAsync(
        [FromQuery] string? line, [FromQuery] string? group, [FromQuery] string? start, CancellationToken ct)
    {
        var first = int.TryParse(start, NumberStyles.None, CultureInfo.InvariantCulture, out var s) ? s : 0;
        var (listed, refusal) = await infants.PageAsync(Request.Query, line, group is { Length: > 0 } ? group : null, first, ct);
        if (listed is null) return refusal == ReportInfantsRefusal.NoSuchLine ? NotFound() : BadRequest();
        Listed = listed;
        return Page();
    }
}
