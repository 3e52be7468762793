using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Infants.Statuses;
using Registry.Ui;

namespace Registry.Meeting;

/// <summary>What the team talks about once a week, on paper or on a screen.</summary>
[ShowsInfants]
public sealed class MeetingPageModel(ReadMeeting read, StatusSource days, AuditReads audit, AsOf asOf) : PageModel
{
    public MeetingPapers Papers { get; private set; } = null!;

    public async Task OnGetAsync(CancellationToken ct)
    {
        await days.RefuseOutsideAsync(asOf.Date, ct);
        Papers = await read.AsOfAsync(asOf.Date, Permissions.Holds(User, Permissions.SiteManager),
            Permissions.Holds(User, Permissions.SubmitForSite), ct);
        await audit.ListAsync(Papers.Lines.Select(l => l.Id), ct);
    }
}
