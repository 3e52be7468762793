using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Ui;

namespace Registry.SiteQuality;

/// <summary>What every comparison and flag expects of infants: coefficients of the region, of no site and no infant.</summary>
[Authorize(Policy = Permissions.SeeCounts)]
public sealed class CaseMixPageModel(ShowCaseMix show, AsOf asOf) : PageModel
{
    [FromQuery(Name = "plan")] public Guid? Plan { get; set; }

    /// <summary>Null where none is kept.</summary>
    public ShownCaseMix? Shown { get; private set; }

    public async Task OnGetAsync(CancellationToken ct) => Shown = await show.AsOfAsync(Plan, asOf.Date, ct);
}
