using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Rules.Linkage;

namespace Registry.Intake;

/// <summary>Rows that wait for a decision or for a birth, oldest first, with counts by site and reason. It shows no infant.</summary>
[Authorize(Policy = Permissions.SubmitForSite)]
public sealed class HeldRowsModel(ListSubmissions list, Viewer viewer) : PageModel
{
    [FromQuery(Name = "site")] public string? Site { get; set; }
    [FromQuery(Name = "reason")] public string? Reason { get; set; }
    [FromQuery(Name = "after")] public string? After { get; set; }

    public IReadOnlyList<(SiteId Id, string Code, string Name)> Sites { get; private set; } = [];
    public IReadOnlyList<HeldCount> Counts { get; private set; } = [];
    public IReadOnlyList<HeldLine> Lines { get; private set; } = [];
    public string? Next { get; private set; }

    public async Task OnGetAsync(CancellationToken ct)
    {
        Sites = await list.SitesAsync(ct);
        var site = viewer.IsCoordinator ? Sites.Where(s => s.Code == Site).Select(s => (SiteId?)s.Id).FirstOrDefault() : viewer.SiteId;
        Counts = await list.HeldCountsAsync(site, ct);
        (Lines, Next) = await list.HeldAsync(site, Codes.TryParse<HoldReason>(Reason, out var reason) ? reason : null, After, ct);
    }

    public string CodeOf(SiteId id) => Sites.First(s => s.Id == id).Code;
}
