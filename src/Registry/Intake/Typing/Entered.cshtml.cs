using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Intake.Receiving;
using Registry.Intake.Rows;
using Registry.Intake.Submissions;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Intake.Typing;

/// <summary>What became of what was typed, and the way to undo it.</summary>
[Authorize(Policy = Permissions.SubmitForSite), ShowsInfants, LimitedIntake]
public sealed class EnteredModel(TypeRows type, ReadSubmissions read, AuditReads audit, Viewer viewer) : PageModel
{
    private const int MostRows = 10;

    [FromRoute(Name = "id")] public SubmissionId Id { get; set; }

    public IReadOnlyList<RowReport> Rows { get; private set; } = [];
    /// <summary>Whose record has it: of a row that waits, nobody is told whom it may be about.</summary>
    public Guid? Infant => Rows.Where(r => r.Outcome == Codes.Of(RowOutcome.Accepted) || r.Outcome == Codes.Of(RowOutcome.Unchanged))
        .Select(r => r.InfantId?.Value).FirstOrDefault(i => i is not null);

    /// <summary>Something of it holds, or waits, and it takes nothing back itself.</summary>
    public bool CanUndo { get; private set; }
    public bool IsUndo { get; private set; }

    public async Task<IActionResult> OnGetAsync(CancellationToken ct)
    {
        if (await FindAsync(ct) is not { } status) return NotFound();
        Rows = (await read.RowsAsync(Id, new(), 0, MostRows, ct)).Rows;
        IsUndo = await type.IsUndoAsync(status, ct);
        CanUndo = !IsUndo && Rows.Any(r => r.Outcome == Codes.Of(RowOutcome.Accepted));
        await audit.ListAsync(Rows.Select(r => r.InfantId).OfType<InfantId>(), ct);
        return Page();
    }

    public async Task<IActionResult> OnPostUndoAsync(CancellationToken ct)
    {
        if (await FindAsync(ct) is not { } status || await type.IsUndoAsync(status, ct)) return NotFound();
        if (await type.UndoAsync(status, ct) is { } undone) return LocalRedirect($"/entered/{undone}");
        TempData["Problem"] = TypingWords.NotStored;
        return LocalRedirect($"/entered/{Id}");
    }

    private async Task<SubmissionStatus?> FindAsync(CancellationToken ct) =>
        await read.StatusAsync(Id, ct) is { Format: SubmissionFormat.Typed } status && viewer.MaySubmitFor(status.SiteId) ? status : null;
}
