using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Infants.Record;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.HandOffs;

/// <summary>One infant's hand-offs: what became of them, and handing the infant on.</summary>
[Authorize(Policy = Permissions.SeeInfants), ShowsInfants]
public sealed class HandOffPageModel(
    SendHandOff send, AnswerHandOff answers, ShowHandOffs show, OpenRecord records, SiteChoices choices, AsOf asOf,
    Viewer viewer) : PageModel
{
    [FromRoute] public Guid Id { get; set; }

    public OpenedRecord Record { get; private set; } = null!;
    public IReadOnlyList<HandOffLine> Lines { get; private set; } = [];
    public IReadOnlyList<Site> Sites { get; private set; } = [];
    public HandOffForm Form { get; private set; } = new();
    public HandOffKind? Chosen => Codes.TryParse<HandOffKind>(Form.Kind, out var kind) ? kind : null;
    public HandOffAnswer? Problem { get; private set; }

    /// <summary>Whether the viewer hands infants on at all; a record open by a broken glass is only read.</summary>
    public bool MaySend => send.IsAllowed && !Record.ByGlass;

    public Task<IActionResult> OnGetAsync(CancellationToken ct) => ShowAsync(null, ct);

    public async Task<IActionResult> OnPostAsync([FromForm] HandOffForm form, CancellationToken ct)
    {
        var answer = await send.RunAsync(new(Id), ModelState.IsValid ? form : null, ct);
        if (answer == HandOffAnswer.NoSuchInfant) return NotFound();
        if (answer is not (HandOffAnswer.Sent or HandOffAnswer.Already))
        {
            Problem = answer;
            Response.StatusCode = StatusCodes.Status422UnprocessableEntity;
            return await ShowAsync(form, ct);
        }

        TempData["Done"] = HandOffWords.Of(answer);
        if (answer == HandOffAnswer.Sent) TempData["Undo"] = form.Key;
        return Back();
    }

    public async Task<IActionResult> OnPostAnswerAsync(
        [FromForm] Guid handOff, [FromForm] HandOffAct? act, [FromForm] string? reason, [FromForm] DateOnly? consentOn,
        CancellationToken ct)
    {
        var (answer, infant) = ModelState.IsValid ? await answers.RunAsync(handOff, act, HandOffWords.Read(reason), consentOn, ct)
            : (HandOffAnswer.NoSuchHandOff, null);
        if (answer == HandOffAnswer.NoSuchHandOff || infant is { } of && of.Value != Id) return NotFound();
        TempData[answer == HandOffAnswer.Recorded ? "Done" : "Problem"] = HandOffWords.Of(answer);
        // Whoever sends it back may not be shown the infant any more.
        return act == HandOffAct.Returned && viewer.SiteId is not null ? LocalRedirect(Permissions.HomeOf(viewer.Role)) : Back();
    }

    private async Task<IActionResult> ShowAsync(HandOffForm? form, CancellationToken ct)
    {
        if (await records.AsOfAsync(new(Id), asOf.Today, ct) is not { } record) return NotFound();
        Record = record;
        Lines = await show.OfAsync(new(Id), ct);
        Sites = [.. (await choices.ActiveAsync(ct)).Where(s => s.Id != viewer.SiteId && s.Kind != SiteKind.VitalRecords)];
        Form = (form ?? new() { Step = record.LikelyStep }) with { Key = Guid.CreateVersion7() };
        return Page();
    }

    private LocalRedirectResult Back() => LocalRedirect($"/infants/{Id}/hand-offs");
}
