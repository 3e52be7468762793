using System.Text.Json;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Intake;

/// <summary>One held or rejected row: what was sent, why it was not applied, and for coordinators the decision and its undo.</summary>
[Authorize(Policy = Permissions.SubmitForSite), ShowsInfants]
public sealed class HeldRowModel(FindCandidates find, ResolveHeldRow resolve, AuditReads audit, Viewer viewer, ReadSubmissions read) : PageModel
{
    [FromRoute(Name = "id")] public SubmissionId Id { get; set; }
    [FromRoute(Name = "row")] public int Row { get; set; }
    [BindProperty] public string? Identifier { get; set; }

    public HeldRowView View { get; private set; } = null!;
    public IReadOnlyDictionary<string, string> Sent { get; private set; } = new Dictionary<string, string>();
    public IReadOnlyList<Problem> Problems { get; private set; } = [];
    public IReadOnlyList<CandidateInfant> Candidates { get; private set; } = [];
    public bool IsHeld => View is { Outcome: RowOutcome.Held, Resolution: null };
    public bool MayDecide => viewer.IsCoordinator && IsHeld;
    public bool MayUndo => viewer.IsCoordinator && View.Resolution is HeldResolution.Matched or HeldResolution.Discarded;

    public async Task<IActionResult> OnGetAsync(CancellationToken ct) => await ShowAsync(ct);

    /// <summary>Looks for an infant by an identifier; posted, because an identifier does not belong in a URL.</summary>
    public async Task<IActionResult> OnPostFindAsync(CancellationToken ct) => viewer.IsCoordinator ? await ShowAsync(ct) : Forbid();

    public Task<IActionResult> OnPostMatchAsync(InfantId infant, CancellationToken ct) =>
        DecideAsync("The row was applied to the infant you chose.", by => resolve.ApplyAsync(Id, Row, infant, by, ct));

    public Task<IActionResult> OnPostNewAsync(CancellationToken ct) =>
        DecideAsync("The birth was recorded as a new infant.", by => resolve.ApplyAsync(Id, Row, null, by, ct));

    public Task<IActionResult> OnPostRetryAsync(CancellationToken ct) =>
        DecideAsync("The row was settled by the matching rule.", by => resolve.RetryAsync(Id, Row, by, ct));

    public Task<IActionResult> OnPostDiscardAsync(CancellationToken ct) =>
        DecideAsync("The row was discarded.", by => resolve.DiscardAsync(Id, Row, by, ct));

    public Task<IActionResult> OnPostUndoAsync(CancellationToken ct) =>
        DecideAsync("The decision was taken back; the row is held again.", _ => resolve.UndoAsync(Id, Row, ct));

    private async Task<IActionResult> DecideAsync(string done, Func<Guid, Task<string?>> decide)
    {
        if (!viewer.IsCoordinator) return Forbid();
        var problem = await decide(viewer.PersonId!.Value);
        TempData[problem is null ? "Done" : "Problem"] = problem ?? done;
        return Redirect($"/submissions/{Id}/rows/{Row}");
    }

    private async Task<IActionResult> ShowAsync(CancellationToken ct)
    {
        if (await find.ReadAsync(Id, Row, ct) is not { } view || !viewer.MaySee(view.Content.SiteId)) return NotFound();
        View = view;
        Sent = JsonSerializer.Deserialize<Dictionary<string, string>>(view.Content.Content)!
            .OrderBy(p => Codes.Parse<Field>(p.Key)).ToDictionary(p => p.Key, p => p.Value);
        Problems = (await read.RowsAsync(Id, new RowFilter(), Row - 1, 1, ct)).Rows.Single(r => r.Row == Row).Problems;
        if (MayDecide) Candidates = await find.ForRowAsync(view.Content, Identifier, ct);
        await audit.ListAsync(Candidates.Count + 1, ct);
        return Page();
    }
}
