using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Intake.Rows;
using Registry.Intake.Submissions;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Rules.Linkage;

namespace Registry.Intake.HeldRows;

/// <summary>One held or rejected row: what was sent, why it was not applied, who did what with it since; to be corrected, decided, and
/// undone.</summary>
[Authorize(Policy = Permissions.SubmitForSite), ShowsInfants]
public sealed class HeldRowModel(
    FindCandidates find, DecideRow decide, TakeBackDecision takeBack, ReadRowChanges history, ListWaitingRows waiting, ReadSubmissions read,
    AuditReads audit, Viewer viewer) : PageModel
{
    private const int LongestValue = 4_000;

    [FromRoute(Name = "id")] public SubmissionId Id { get; set; }
    [FromRoute(Name = "row")] public int Row { get; set; }
    [BindProperty] public string? Identifier { get; set; }

    /// <summary>The row's last change when the person opened it.</summary>
    [BindProperty] public long? Seen { get; set; }

    /// <summary>The columns as a person corrects them, by code.</summary>
    [BindProperty] public Dictionary<string, string?> Values { get; set; } = [];

    /// <summary>Of what the reader of the file found, by its number, where the person says that the row is right as it stands.</summary>
    [BindProperty] public List<int> Stands { get; set; } = [];

    public HeldRowView View { get; private set; } = null!;
    public IReadOnlyDictionary<Field, string> Stated { get; private set; } = new Dictionary<Field, string>();
    public IReadOnlyList<Problem> Problems { get; private set; } = [];

    /// <summary>What is wrong with the row as corrected.</summary>
    public IReadOnlyList<Problem> CorrectionProblems { get; private set; } = [];
    public IReadOnlyList<CandidateInfant> Candidates { get; private set; } = [];
    public IReadOnlyList<RowChangeLine> Changes { get; private set; } = [];
    public (SubmissionId Id, int Row)? Next { get; private set; }

    /// <summary><see cref="Next"/> is of the same kind and reason, not only of the same site.</summary>
    public bool NextIsAlike { get; private set; }

    /// <summary>What the reader of the file found, by number.</summary>
    public IEnumerable<(int Index, Problem Problem)> Found => View.Content.FoundByReader.Index();

    public long LastChange => Changes.Count == 0 ? 0 : Changes[^1].Id;
    public bool IsHeld => View is { Outcome: RowOutcome.Held };
    public bool Waits => IsHeld || View is { Outcome: RowOutcome.Rejected, Discarded: false };
    public bool MayDecide => IsHeld && May(RowChangeKind.Matched);
    public bool MayCorrect => Waits && May(RowChangeKind.Corrected);
    public bool MayDiscard => Waits && May(RowChangeKind.Discarded);

    /// <summary>The change an undo would take back.</summary>
    public RowChangeLine? Last => Changes.LastOrDefault(c => c.Kind != RowChangeKind.TakenBack && !Changes.Any(u => u.TakesBack == c.Id));
    public bool MayUndo => Last is { } last && May(last.Kind);

    /// <summary>The value a column shows in the form: as corrected, else as it stands.</summary>
    public string Value(Field field) => CorrectionProblems.Count > 0 && Values.TryGetValue(Codes.Of(field), out var value) ? value
        ?? "" : Stated.GetValueOrDefault(field, "");

    public RowKind? Kind => Codes.TryParse<RowKind>(Value(Field.Kind), out var kind) ? kind : null;

    public async Task<IActionResult> OnGetAsync(CancellationToken ct) => await ShowAsync(ct);

    /// <summary>Looks for an infant by an identifier; posted, because an identifier does not belong in a URL.</summary>
    public async Task<IActionResult> OnPostFindAsync(CancellationToken ct) => viewer.IsCoordinator ? await ShowAsync(ct) : Forbid();

    public async Task<IActionResult> OnPostCorrectAsync(CancellationToken ct)
    {
        if (!await FindAsync(ct)) return NotFound();
        if (!May(RowChangeKind.Corrected)) return Forbid();
        var tooLong = Changed(Stated).Where(v => v.Value.Length > LongestValue)
            .Select(v => new Problem(v.Key, $"is longer than {LongestValue} characters")).ToList();
        var correction = tooLong.Count > 0 ? new(null, tooLong) : await decide.CorrectAsync(Id, Row, Merge, By(), ct, Stands);
        if (correction.Problem is not null) return Answer(correction.Problem, "");
        if (correction.Fields.Count == 0)
        {
            return Answer(null, correction switch
            {
                { Outcome: RowOutcome.Accepted } => "The corrected row was applied.",
                { Outcome: RowOutcome.Unchanged } => "The corrected row says what is recorded already.",
                _ => $"The corrected row is kept and waits. {IntakeWords.Of(correction.Hold!.Value)}.",
            });
        }

        CorrectionProblems = correction.Fields;
        Response.StatusCode = StatusCodes.Status422UnprocessableEntity;
        return await ShowAsync(ct);
    }

    public Task<IActionResult> OnPostMatchAsync(InfantId infant, CancellationToken ct) =>
        DecideAsync(RowChangeKind.Matched, "The row was applied to the infant you chose.", by =>
            decide.ApplyAsync(Id, Row, infant, by, ct), ct);

    public Task<IActionResult> OnPostNewAsync(CancellationToken ct) =>
        DecideAsync(RowChangeKind.MadeNew, "The birth was recorded as a new infant.", by => decide.ApplyAsync(Id, Row, null, by, ct), ct);

    public Task<IActionResult> OnPostRetryAsync(CancellationToken ct) =>
        DecideAsync(RowChangeKind.AskedAgain, "The row was checked and matched again.", by => decide.AskAgainAsync(Id, Row, by, ct), ct);

    public Task<IActionResult> OnPostDiscardAsync(CancellationToken ct) =>
        DecideAsync(RowChangeKind.Discarded, "The row was discarded.", by => decide.DiscardAsync(Id, Row, by, ct), ct);

    public async Task<IActionResult> OnPostUndoAsync(CancellationToken ct)
    {
        if (!await FindAsync(ct)) return NotFound();
        if (!MayUndo) return Forbid();
        var problem = await takeBack.RunAsync(Id, Row, By(), Last!.Id, ct);
        var isAppliedAgain = problem is null && await FindAsync(ct) && SettlesItself;
        return Answer(problem, isAppliedAgain
            ? "The decision was taken back. The row waits again, and is applied by itself within a minute when what it lacks is known; if "
                + "it is not to be used, discard it."
            : "The decision was taken back; the row is again as it was before.");
    }

    /// <summary>Nobody need decide: it waits for something that may come.</summary>
    private bool SettlesItself => IsHeld
        && View.Reason is HoldReason.NoSuchInfant or HoldReason.NothingRecorded or HoldReason.OthersRestOnIt;

    private bool May(RowChangeKind kind) => RowRights.May(viewer, View.Content.SiteId, kind);

    private Decider By() => new(viewer.PersonId!.Value, null, Seen);

    private async Task<IActionResult> DecideAsync(RowChangeKind kind, string done, Func<Decider, Task<string?>> run, CancellationToken ct)
    {
        if (!await FindAsync(ct)) return NotFound();
        return May(kind) ? Answer(await run(By()), done) : Forbid();
    }

    private RedirectResult Answer(string? problem, string done)
    {
        TempData[problem is null ? "Done" : "Problem"] = problem ?? done;
        return Redirect($"/submissions/{Id}/rows/{Row}");
    }

    private Dictionary<Field, string> Merge(IReadOnlyDictionary<Field, string> row)
    {
        var merged = new Dictionary<Field, string>(row);
        foreach (var (field, value) in Changed(row)) merged[field] = value;
        return merged;
    }

    /// <summary>The columns in which the form says something else than the row. A browser writes line breaks its own way: that is no
    /// change.</summary>
    private Dictionary<Field, string> Changed(IReadOnlyDictionary<Field, string> row)
    {
        var changed = new Dictionary<Field, string>();
        foreach (var (name, value) in Values)
        {
            if (!Codes.TryParse<Field>(name, out var field) || field == Field.Problems) continue;
            if (Lines(value) is var text && text != Lines(row.GetValueOrDefault(field))) changed[field] = text;
        }

        return changed;
    }

    private static string Lines(string? value) => (value ?? "").ReplaceLineEndings("\n").Trim();

    private async Task<bool> FindAsync(CancellationToken ct)
    {
        if (await find.ReadAsync(Id, Row, ct) is not { } view || !viewer.MaySee(view.Content.SiteId)) return false;
        View = view;
        Stated = RowContent.Fields(view.Content.Content);
        Changes = await history.RunAsync(Id, Row, view.Content.Content, ct);
        return true;
    }

    private async Task<IActionResult> ShowAsync(CancellationToken ct)
    {
        if (!await FindAsync(ct)) return NotFound();
        Problems = (await read.RowsAsync(Id, new RowFilter(), Row - 1, 1, ct)).Rows.Single(r => r.Row == Row).Problems;
        if (MayDecide)
        {
            (Candidates, var failing) = await find.ForRowAsync(View.Content, Identifier, ct);
            if (failing.Count > 0) Problems = failing;
        }

        var ofSite = new WaitingFilter(View.Content.SiteId);
        if (Waits)
        {
            var why = IsHeld || Problems.Count == 0 ? default : Problems[0];
            Next = await waiting.NextAsync(
                ofSite with
                {
                    Outcome = View.Outcome,
                    Kind = View.Kind is { } kind ? Codes.Of(kind) : "unknown",
                    Hold = IsHeld ? View.Reason : null,
                    Field = why.Field,
                    Reason = why.Reason
                }, Id, Row, ct);
        }

        NextIsAlike = Next is not null;
        Next ??= await waiting.NextAsync(ofSite, Id, Row, ct);
        await audit.ListAsync(Candidates.Count + 1, ct);
        return Page();
    }
}
