using Microsoft.AspNetCore.Mvc;
using Registry.Records;

namespace Registry.Accounts;

/// <summary>On a record, for whoever may read the trail: who opened it last, and the way to everybody who did.</summary>
public sealed class LastReadsViewComponent(ListReads list) : ViewComponent
{
    private const int Few = 5;

    public async Task<IViewComponentResult> InvokeAsync(InfantId infant) =>
        View("/Accounts/_LastReads.cshtml", (infant, await list.LastAsync(infant, Few, HttpContext.RequestAborted)));
}
