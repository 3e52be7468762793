using Microsoft.AspNetCore.Mvc;
using Registry.Access;
using Registry.Records;

namespace Registry.Glasses;

/// <summary>On a record: that it is open by a broken glass, to whoever broke it; and to coordinators who opened it, when and why.</summary>
public sealed class GlassesViewComponent(ListGlasses list, Viewer viewer) : ViewComponent
{
    public async Task<IViewComponentResult> InvokeAsync(InfantId infant)
    {
        if (!viewer.IsCoordinator && viewer.Glasses.Count == 0) return Content("");
        var lines = await list.OfAsync(infant, HttpContext.RequestAborted);
        return lines.Count == 0 ? Content("") : View("/Glasses/_OnRecord.cshtml", lines);
    }
}
