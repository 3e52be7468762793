using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Ui;

namespace Registry.SiteQuality;

/// <summary>Where a site's refers and invalid tests come from: week by week, by instrument, probe, screener, method and age.</summary>
[Authorize(Policy = Permissions.SeeInfants)]
public sealed class SiteModel(ShowSite sites, AsOf asOf) : PageModel
{
    [FromQuery(Name = "from")] public string? FromText { get; set; }
    [FromQuery(Name = "to")] public string? ToText { get; set; }

    [FromQuery(Name = "days")] public string? DaysText { get; set; }

    public Period Period { get; private set; }
    public ShownSite Shown { get; private set; } = null!;

    public async Task<IActionResult> OnGetAsync(string code, CancellationToken ct)
    {
        Period = Period.Read(FromText, ToText, asOf.Date);
        if (await sites.AsOfAsync(code, Period, Period.Days(DaysText), asOf.Date, ct) is not { } shown) return NotFound();
        Shown = shown;
        return Page();
    }
}
