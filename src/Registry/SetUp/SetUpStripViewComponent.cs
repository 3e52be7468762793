using Microsoft.AspNetCore.Mvc;

namespace Registry.SetUp;

/// <summary>Above an administrator's pages until every step is done: where the set-up stands, and the way on.</summary>
public sealed class SetUpStripViewComponent(ShowProgress progress) : ViewComponent
{
    public async Task<IViewComponentResult> InvokeAsync()
    {
        var steps = await progress.StepsAsync(HttpContext.RequestAborted);
        return steps.All(s => s.Done) ? Content("") : View("/SetUp/_Strip.cshtml", steps);
    }
}
