using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Intake.Receiving;
using Registry.Intake.Rows;
using Registry.Records;

namespace Registry.Intake.Typing;

/// <summary>What became of what was typed, and the way to undo it.</summary>
[Authorize(Policy = Permissions.EnterFamily), ShowsInfants, LimitedIntake]
public sealed class EnteredModel(TypeRows type, FindEntry find, AuditReads audit) : PageModel
{
    [FromRoute(Name = "id")] public SubmissionId Id { get; set; }
    [FromQuery(Name = "back")] public string? AskedBack { get; set; }

    public TypedEntry Entry { get; private set; } = null!;
    public IReadOnlyList<RowReport> Rows => Entry.Rows;

    /// <summary>Where the person was; null: nowhere in particular.</summary>
    public string? Back => BackTo.Ours(Url, AskedBack, Entry.Infant?.Value);

    /// <summary>Something of it holds, or waits, and it takes nothing back itself.</summary>
    public bool CanUndo { get; private set; }
    public bool IsUndo { get; private set; }

    /// <summary>It took the place of something: to take it back would leave neither, so it is corrected again from the record.</summary>
    public bool Replaced { get; private set; }

    private HashSet<int> _takesBack = [];

    public bool TakesBack(RowReport row) => _takesBack.Contains(row.Row);

    public async Task<IActionResult> OnGetAsync(CancellationToken ct)
    {
        if (!await FindAsync(ct)) return NotFound();
        CanUndo = !IsUndo && !Replaced && Entry.Recorded.Count > 0;
        await audit.ListAsync(Rows.Select(r => r.InfantId).OfType<InfantId>(), ct);
        return Page();
    }

    public async Task<IActionResult> OnPostUndoAsync(CancellationToken ct)
    {
        if (!await FindAsync(ct) || IsUndo || Replaced || Entry.Recorded.Count == 0) return NotFound();
        var problem = TypingWords.SaidElsewhere;
        if (!await find.IsSaidElsewhereAsync(Entry, ct))
        {
            if (await type.UndoAsync(Entry.Submission, Entry.Recorded, ct) is { } undone)
                return LocalRedirect(BackTo.Entered(undone, Back));
            problem = TypingWords.NotStored;
        }

        TempData["Problem"] = problem;
        return LocalRedirect(BackTo.Entered(Id, Back));
    }

    private async Task<bool> FindAsync(CancellationToken ct)
    {
        if (await find.OfAsync(Id, ct) is not { } entry) return false;
        (Entry, _takesBack) = (entry, await type.TakesBackAsync(entry.Submission, ct));
        IsUndo = _takesBack.Count == entry.Submission.Rows;
        Replaced = !IsUndo && await find.ReplacedAsync(entry, ct);
        return true;
    }
}
