using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Intake.HeldRows;
using Registry.Platform;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.Intake.Submissions;

/// <summary>What was received, newest first. Counts only: it shows no infant.</summary>
[Authorize(Policy = Permissions.SubmitForSite)]
public sealed class SubmissionsModel(ListSubmissions list, SiteChoices choices, ListWaitingRows waiting, ProgramClock clock, Viewer viewer)
    : PageModel
{
    [FromQuery(Name = "site")] public string? Site { get; set; }
    [FromQuery(Name = "state")] public string? State { get; set; }
    [FromQuery(Name = "with")] public string? With { get; set; }
    [FromQuery(Name = "from")] public string? From { get; set; }
    [FromQuery(Name = "to")] public string? To { get; set; }
    [FromQuery(Name = "after")] public string? After { get; set; }

    public IReadOnlyList<Site> Sites { get; private set; } = [];
    public int HeldRows { get; private set; }
    public int RejectedRows { get; private set; }
    public ListedSubmissions Listed { get; private set; } = new([], 0, null);
    public bool IsFiltered => Site is not null || State is not null || With is not null || From is not null || To is not null;

    public async Task OnGetAsync(CancellationToken ct)
    {
        Sites = await choices.AllAsync(ct);
        var site = viewer.IsCoordinator ? Sites.Where(s => s.Code == Site).Select(s => (SiteId?)s.Id).FirstOrDefault() : viewer.SiteId;
        var filter = new SubmissionFilter(
            site,
            Codes.TryParse<SubmissionState>(State, out var state) ? state : null,
            Codes.TryParse<RowOutcome>(With, out var with) ? with : null,
            AskedDay.Read(From) is { } from ? clock.EndOf(from.AddDays(-1)) : null,
            AskedDay.Read(To) is { } to ? clock.EndOf(to) : null);
        Listed = await list.PageAsync(filter, After, ct);
        (HeldRows, RejectedRows) = await waiting.CountAsync(new(site), ct);
    }
}
