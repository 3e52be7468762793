using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Ui;

namespace Registry.FollowUp.Chance;

/// <summary>The chance of loss and how it comes true. Counts of the region only, small ones joined: it shows no infant.</summary>
[Authorize(Policy = Permissions.SeeCounts)]
public sealed class ChanceOfLossPageModel(ShowChanceOfLoss show, AsOf asOf) : PageModel
{
    /// <summary>Null where the history is too short.</summary>
    public ShownChance? Shown { get; private set; }

    public async Task OnGetAsync(CancellationToken ct) => Shown = await show.AsOfAsync(asOf.Date, ct);
}
