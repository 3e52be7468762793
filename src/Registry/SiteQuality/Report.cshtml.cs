using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Infants.Counting;
using Registry.SiteQuality.Monthly;
using Registry.Ui;

namespace Registry.SiteQuality;

/// <summary>A site's screening on one page of paper: its rates, what to check, whose result is missing; and whether its manager is told of
/// it each month.</summary>
[Authorize(Policy = Permissions.SeeInfants)]
[ShowsInfants]
public sealed class ReportModel(ShowSite sites, ListMissing list, RequestSiteReport wish, AsOf asOf) : PageModel
{
    /// <summary>By name; there is room for no more.</summary>
    private const int MostMissing = 6;

    [FromQuery(Name = "from")] public string? FromText { get; set; }
    [FromQuery(Name = "to")] public string? ToText { get; set; }

    public Period Period { get; private set; }
    public ShownSite Shown { get; private set; } = null!;

    /// <summary>Null for a past day whose statuses nobody had computed.</summary>
    public MissingResults? Missing { get; private set; }

    /// <summary>Null for whoever is not written to.</summary>
    public bool? IsWanted { get; private set; }

    public async Task<IActionResult> OnGetAsync(string code, CancellationToken ct)
    {
        Period = Period.Read(FromText, ToText, asOf.Date);
        if (await sites.AsOfAsync(code, Period, CountedDay.Test, asOf.Date, ct) is not { } shown) return NotFound();
        Shown = shown;
        Missing = await list.AsOfAsync(shown.Site, Period, asOf.Date, MostMissing, ct);
        IsWanted = await wish.IsWantedAsync(shown.Site.Id, ct);
        return Page();
    }

    public Task<IActionResult> OnPostWantAsync(string code, CancellationToken ct) => SayAsync(code, true, ct);

    public Task<IActionResult> OnPostStopAsync(string code, CancellationToken ct) => SayAsync(code, false, ct);

    private async Task<IActionResult> SayAsync(string code, bool wanted, CancellationToken ct)
    {
        if (!await wish.SayAsync(code, wanted, ct)) return NotFound();
        TempData["Done"] = SiteWords.Wished(wanted);
        return LocalRedirect(asOf.Here(("handler", null)));
    }
}
