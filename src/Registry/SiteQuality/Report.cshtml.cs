using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Infants.Counting;
using Registry.Ui;

namespace Registry.SiteQuality;

/// <summary>A site's screening on one page of paper. Counts only: it shows no infant.</summary>
[Authorize(Policy = Permissions.SeeInfants)]
public sealed class ReportModel(ShowSite sites, AsOf asOf) : PageModel
{
    [FromQuery(Name = "from")] public string? FromText { get; set; }
    [FromQuery(Name = "to")] public string? ToText { get; set; }

    public Period Period { get; private set; }
    public ShownSite Shown { get; private set; } = null!;

    public async Task<IActionResult> OnGetAsync(string code, CancellationToken ct)
    {
        Period = Period.Read(FromText, ToText, asOf.Date);
        if (await sites.AsOfAsync(code, Period, CountedDay.Test, asOf.Date, ct) is not { } shown) return NotFound();
        Shown = shown;
        return Page();
    }
}
