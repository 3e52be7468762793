using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Infants.Counting;
using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.SiteQuality;

/// <summary>One instrument, probe or screener of a site: its counts, its weeks, what stands against it. It shows no infant.</summary>
[Authorize(Policy = Permissions.SeeInfants)]
public sealed class UnitModel(ShowUnit units, AsOf asOf) : PageModel
{
    [FromQuery(Name = "from")] public string? FromText { get; set; }
    [FromQuery(Name = "to")] public string? ToText { get; set; }

    public Period Period { get; private set; }
    public ShownUnit Shown { get; private set; } = null!;

    public async Task<IActionResult> OnGetAsync(string code, string kind, string? name, CancellationToken ct)
    {
        Period = Period.Read(FromText, ToText, asOf.Date);
        if (!Codes.TryParse<ScreenGrouping>(kind, out var grouping)
            || await units.AsOfAsync(code, grouping, name ?? "", Period, asOf.Date, ct) is not { } shown) return NotFound();
        Shown = shown;
        return Page();
    }
}
