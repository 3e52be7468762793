using Microsoft.AspNetCore.Mvc;
using Registry.Access;

namespace Registry.Openings;

/// <summary>On a clinic's home: its next openings and who took them, and the way to state more.</summary>
public sealed class OpeningsViewComponent(StateOpenings state, ListOpenings list, AuditReads audit) : ViewComponent
{
    private const int Shown = 10;

    public async Task<IViewComponentResult> InvokeAsync()
    {
        var ct = HttpContext.RequestAborted;
        if (await state.ClinicAsync(null, ct) is not { } clinic) return Content("");
        var lines = await list.OfAsync(clinic.Id, Shown, ct);
        await audit.ListAsync(lines.SelectMany(l => l.Taken).Select(t => t.Id), ct);
        return View("/Openings/_OnHome.cshtml", lines);
    }
}
