using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Infants.Statuses;
using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.Meeting;

/// <summary>The infants behind a number of a week's meeting.</summary>
[ShowsInfants]
public sealed class TopicPageModel(ListTopics topics, StatusSource days, AuditReads audit, AsOf asOf, Viewer viewer) : PageModel
{
    private const int PageSize = 50;

    [FromQuery(Name = "topic")] public string? TopicText { get; set; }
    [FromQuery(Name = "page")] public int PageNumber { get; set; } = 1;

    public MeetingTopic Topic { get; private set; }
    public MeetingWeek Week { get; private set; }
    public int Count { get; private set; }
    public IReadOnlyList<TopicLine> Lines { get; private set; } = [];
    public bool HasNext => PageNumber * PageSize < Count;

    public async Task<IActionResult> OnGetAsync(CancellationToken ct)
    {
        if (!Codes.TryParse<MeetingTopic>(TopicText, out var topic)) return NotFound();
        await days.RefuseOutsideAsync(asOf.Date, ct);
        (Topic, Week, PageNumber) = (topic, MeetingWeek.Of(asOf.Date), Math.Clamp(PageNumber, 1, 10_000));
        Count = (await topics.CountAsync(Week, viewer, ct))[topic];
        Lines = await topics.RunAsync(Week, topic, (PageNumber - 1) * PageSize, PageSize, viewer, ct);
        await audit.ListAsync(Lines.Select(l => l.Id), ct);
        return Page();
    }
}
