using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Infants.Record;
using Registry.Records;
using Registry.Ui;

namespace Registry.HandOffs;

/// <summary>Asking a clinic for a result, or whoever has no account whether a hand-off arrived; and what was asked before.</summary>
[Authorize(Policy = Permissions.SeeInfants), ShowsInfants]
public sealed class AskModel(AskForAnswer ask, ShowHandOffs handOffs, OpenRecord records, SiteChoices choices, AsOf asOf) : PageModel
{
    [FromRoute] public Guid Id { get; set; }

    public OpenedRecord Record { get; private set; } = null!;
    public IReadOnlyList<AskedLine> Asked { get; private set; } = [];

    /// <summary>Hand-offs that wait to be acknowledged.</summary>
    public IReadOnlyList<HandOffLine> Waiting { get; private set; } = [];
    public IReadOnlyList<Site> Sites { get; private set; } = [];

    /// <summary>Shown once, to be handed over.</summary>
    public string? Link { get; private set; }
    public AskAnswer? Problem { get; private set; }

    public Task<IActionResult> OnGetAsync(CancellationToken ct) => ShowAsync(ct);

    public async Task<IActionResult> OnPostAsync([FromForm] AskForm form, CancellationToken ct)
    {
        if (!ask.IsAllowed) return NotFound();
        (var answer, Link) = await ask.RunAsync(new(Id), ModelState.IsValid ? form : null, ct);
        if (answer == AskAnswer.NoSuchInfant) return NotFound();
        if (answer == AskAnswer.Mailed)
        {
            TempData["Done"] = AskWords.Of(answer);
            return LocalRedirect($"/infants/{Id}/ask");
        }

        if (answer != AskAnswer.Shown)
        {
            Problem = answer;
            Response.StatusCode = StatusCodes.Status422UnprocessableEntity;
        }

        return await ShowAsync(ct);
    }

    public async Task<IActionResult> OnPostRevokeAsync([FromForm] Guid request, CancellationToken ct)
    {
        var revoked = await ask.RevokeAsync(new(Id), request, ct);
        if (!revoked && !ask.IsAllowed) return NotFound();
        TempData[revoked ? "Done" : "Problem"] = revoked ? AskWords.Revoked : AskWords.NotRevoked;
        return LocalRedirect($"/infants/{Id}/ask");
    }

    private async Task<IActionResult> ShowAsync(CancellationToken ct)
    {
        if (!ask.IsAllowed || await records.AsOfAsync(new(Id), asOf.Today, ct) is not { } record) return NotFound();
        Record = record;
        Asked = await ask.OfAsync(new(Id), ct);
        Waiting = [.. (await handOffs.OfAsync(new(Id), ct)).Where(h => h.Stands && h.HandOff.State != HandOffState.Accepted)];
        Sites = [.. (await choices.ActiveAsync(ct)).Where(s => s.Kind is not (SiteKind.VitalRecords or SiteKind.InterventionProgram))];
        return Page();
    }
}
