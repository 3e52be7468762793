using Microsoft.AspNetCore.Mvc;
using Registry.Access;
using Registry.Platform;
using Registry.Records;

namespace Registry.SetUp;

/// <summary>Above an administrator's pages until every step is done: where the set-up stands, and the way on. Then, above the page they
/// begin with, what is still missing until it is there.</summary>
public sealed class SetUpStripViewComponent(ShowProgress progress, Demonstration demonstration) : ViewComponent
{
    public async Task<IViewComponentResult> InvokeAsync()
    {
        if (demonstration.IsOn) return Content("");
        var steps = await progress.StepsAsync(HttpContext.RequestAborted);
        if (steps.Any(s => !s.Done)) return View("/SetUp/_Strip.cshtml", steps);
        if (HttpContext.Request.Path != Permissions.HomeOf(Role.Administrator)) return Content("");
        var missing = (await progress.ListAsync(HttpContext.RequestAborted)).Where(i => !i.Done).ToList();
        return missing.Count == 0 ? Content("") : View("/SetUp/_Missing.cshtml", missing);
    }
}
