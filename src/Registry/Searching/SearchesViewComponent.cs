using Microsoft.AspNetCore.Mvc;
using Registry.Records;

namespace Registry.Searching;

/// <summary>On a record and beside a call: the last search for the family, and the way to the next.</summary>
public sealed class SearchesViewComponent(ShowSearches show, RecordSearch record) : ViewComponent
{
    public async Task<IViewComponentResult> InvokeAsync(InfantId infant)
    {
        if (!record.IsAllowed) return Content("");
        var (searches, closings) = await show.OfAsync(infant, HttpContext.RequestAborted);
        return View("/Searching/_OnRecord.cshtml", (infant, searches.FirstOrDefault(s => s.Search.SupersededAt is null),
            closings.FirstOrDefault(c => c.Closing.ReopenedAt is null)));
    }
}
