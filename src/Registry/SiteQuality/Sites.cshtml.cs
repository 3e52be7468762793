using System.Text;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Infants.Counting;
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
    [FromQuery(Name = "days")] public string? DaysText { get; set; }
    [FromQuery(Name = "by")] public string? ByText { get; set; }
    [FromQuery(Name = "county")] public string? County { get; set; }
    [FromQuery(Name = "kind")] public string? KindText { get; set; }
    [FromQuery(Name = "sort")] public string? Sort { get; set; }

    /// <summary>What may be compared. Screeners are compared at their own site.</summary>
    public static readonly ScreenGrouping[] Groupings =
    [
        ScreenGrouping.Site, ScreenGrouping.Instrument, ScreenGrouping.Probe, ScreenGrouping.Method, ScreenGrouping.Age,
        ScreenGrouping.Hour,
    ];

    public SiteKind? Kind => Codes.TryParse<SiteKind>(KindText, out var kind) ? kind : null;
    public ShownSites Shown { get; private set; } = null!;

    /// <summary>Who belongs to one site comes for that one.</summary>
    public async Task<IActionResult> OnGetAsync(CancellationToken ct)
    {
        if (!Request.QueryString.HasValue && await sites.OwnAsync(ct) is { } code) return LocalRedirect($"/sites/{code}");
        Shown = await AskAsync(ct);
        return Page();
    }

    public async Task<IActionResult> OnGetCsvAsync(CancellationToken ct) =>
        File(Encoding.UTF8.GetBytes(WriteSitesCsv.Of(await AskAsync(ct))), "text/csv", "sites.csv");

    private Task<ShownSites> AskAsync(CancellationToken ct)
    {
        var by = Codes.TryParse<ScreenGrouping>(ByText, out var asked) && Groupings.Contains(asked) ? asked : ScreenGrouping.Site;
        return sites.AsOfAsync(
            new(Period.Read(FromText, ToText, asOf.Date), Period.Days(DaysText), by, County, Kind, Sort), asOf.Date, ct);
    }
}
