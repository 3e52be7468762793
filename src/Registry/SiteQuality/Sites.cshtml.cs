using System.Text;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.SiteQuality;

/// <summary>Screening of every site a person may see, compared with the region. Counts only: it shows no infant.</summary>
[Authorize(Policy = Permissions.SeeInfants)]
public sealed class SitesModel(ShowSites sites, AsOf asOf) : PageModel
{
    [FromQuery(Name = "from")] public string? FromText { get; set; }
    [FromQuery(Name = "to")] public string? ToText { get; set; }
    [FromQuery(Name = "county")] public string? County { get; set; }
    [FromQuery(Name = "kind")] public string? KindText { get; set; }
    [FromQuery(Name = "sort")] public string? Sort { get; set; }

    public SiteKind? Kind => Codes.TryParse<SiteKind>(KindText, out var kind) ? kind : null;
    public ShownSites Shown { get; private set; } = null!;

    public async Task OnGetAsync(CancellationToken ct) => Shown = await AskAsync(ct);

    public async Task<IActionResult> OnGetCsvAsync(CancellationToken ct) =>
        File(Encoding.UTF8.GetBytes(WriteSitesCsv.Of(await AskAsync(ct))), "text/csv", "sites.csv");

    private Task<ShownSites> AskAsync(CancellationToken ct) => sites.AsOfAsync(
        new(Period.Read(FromText, ToText, asOf.Date), County, Kind, Sort), asOf.Date, asOf.IsToday, ct);
}
