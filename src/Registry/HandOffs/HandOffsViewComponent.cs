using Microsoft.AspNetCore.Mvc;
using Registry.Access;
using Registry.Records;

namespace Registry.HandOffs;

/// <summary>On a record and beside a call: where the infant is handed, and the way to hand it on.</summary>
public sealed class HandOffsViewComponent(ShowHandOffs show, SendHandOff send, Viewer viewer) : ViewComponent
{
    public async Task<IViewComponentResult> InvokeAsync(InfantId infant)
    {
        if (viewer.PersonId is null) return Content("");
        var standing = (await show.OfAsync(infant, HttpContext.RequestAborted)).Where(l => l.Stands).ToList();
        return standing.Count == 0 && !send.IsAllowed ? Content("") : View("/HandOffs/_OnRecord.cshtml", (infant, standing));
    }
}
