using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Erasure;

/// <summary>What waits for a second person, and whose time is over. Also where a first person asks.</summary>
[Authorize(Permissions.Coordinator), ShowsInfants]
public sealed class ErasuresModel(DecideErasure erasure, AuditReads audit, Viewer viewer) : PageModel
{
    private const int Most = 50;

    public IReadOnlyList<WaitingErasure> Waiting { get; private set; } = [];
    public IReadOnlyList<InfantId> Overdue { get; private set; } = [];
    public int TotalOverdue { get; private set; }
    public DateOnly BornBefore { get; private set; }

    public bool MayDo(ErasureRequest request) => request.AskedBy != viewer.PersonId;

    public async Task OnGetAsync(CancellationToken ct)
    {
        Waiting = await erasure.AllWaitingAsync(ct);
        (Overdue, TotalOverdue, BornBefore) = await erasure.OverdueAsync(Most, ct);
        await audit.ListAsync(Waiting.Select(w => w.Request.InfantId).Concat(Overdue), ct);
    }

    public async Task<IActionResult> OnPostAskAsync([FromForm] Guid infant, [FromForm] string reason, CancellationToken ct) =>
        Codes.TryParse<ErasureReason>(reason, out var why) ? Said(await erasure.AskAsync(new(infant), why, ct)) : BadRequest();

    public async Task<IActionResult> OnPostRefuseAsync([FromForm] Guid id, CancellationToken ct) => Said(await erasure.RefuseAsync(id, ct));

    public async Task<IActionResult> OnPostEraseAsync([FromForm] Guid id, CancellationToken ct) => Said(await erasure.EraseAsync(id, ct));

    private IActionResult Said(ErasureAnswer answer)
    {
        if (answer == ErasureAnswer.NoSuchInfant) return NotFound();
        var done = answer is ErasureAnswer.Asked or ErasureAnswer.Refused or ErasureAnswer.Erased;
        TempData[done ? "Done" : "Problem"] = ErasureWords.Of(answer);
        return LocalRedirect("/erasures");
    }
}
